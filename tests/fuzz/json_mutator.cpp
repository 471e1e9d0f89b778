// Changes JSON as JSON, so that most of what libFuzzer tries gets past the parser. One change in four is left to its own mutator of bytes.

#include <array>
#include <cstdint>
#include <cstring>
#include <nlohmann/json.hpp>
#include <random>
#include <string>
#include <vector>

extern "C" std::size_t LLVMFuzzerMutate(std::uint8_t* data, std::size_t size, std::size_t most);

namespace {

using nlohmann::ordered_json;

struct spot {
    ordered_json* value;
    ordered_json* parent;  ///< nullptr for the whole
    std::string key;       ///< in the parent, where that is an object
};

void collect(ordered_json& j, std::vector<spot>& all) {
    for (auto item = j.begin(); j.is_structured() && item != j.end(); ++item) {
        all.push_back({&*item, &j, j.is_object() ? item.key() : ""});
        collect(*item, all);
    }
}

/// A text with some bytes changed by libFuzzer, which knows what the code under test compared it with.
std::string changed(const std::string& text) {
    std::string more = text;
    more.resize(text.size() + 16);
    more.resize(LLVMFuzzerMutate(reinterpret_cast<std::uint8_t*>(more.data()), text.size(), more.size()));
    return more;
}

ordered_json odd_value(std::size_t which) {
    static const std::array<ordered_json, 24> values{nullptr,    true,         false,   0,          -1,          1,
                                                     -0.0,       0.5,          5e-324,  1e-300,     1e308,       4096,
                                                     2147483647, 1ULL << 53,   "",      "infinite", "-0 V",      "1e308 V",
                                                     "1e-300 V", "1e9 V/code", "100 %", "5e-324 K", "1e300 1/K", "2025-02-30"};
    return values[which % values.size()];
}

void change(ordered_json& document, std::minstd_rand& random) {
    std::vector<spot> all;
    collect(document, all);
    if (all.empty()) return;
    const spot& at = all[random() % all.size()];
    const spot& other = all[random() % all.size()];
    switch (random() % 6) {
        case 0:
            *at.value = odd_value(random());
            break;
        case 1:
            *at.value = ordered_json(*other.value);
            break;
        case 2:
            if (at.parent->is_object()) at.parent->erase(at.key);
            break;
        case 3:
            if (at.parent->is_array()) at.parent->push_back(ordered_json(*at.value));
            break;
        case 4:
            if (at.parent->is_object() && !other.key.empty()) (*at.parent)[other.key] = ordered_json(*other.value);
            break;
        default:
            if (at.value->is_string()) {
                *at.value = changed(at.value->get<std::string>());
            } else if (at.value->is_primitive()) {
                *at.value = ordered_json::parse(changed(at.value->dump()), nullptr, false);
            }
    }
}

}  // namespace

extern "C" std::size_t LLVMFuzzerCustomMutator(std::uint8_t* data, std::size_t size, std::size_t most, unsigned int seed) {
    std::minstd_rand random(seed);
    ordered_json document = ordered_json::parse(data, data + size, nullptr, false);
    if (random() % 4 == 0 || document.is_discarded()) return LLVMFuzzerMutate(data, size, most);
    do change(document, random);
    while (random() % 2 == 0);
    const std::string text = document.dump(-1, ' ', false, ordered_json::error_handler_t::replace);
    if (text.size() > most) return LLVMFuzzerMutate(data, size, most);
    std::memcpy(data, text.data(), text.size());
    return text.size();
}
