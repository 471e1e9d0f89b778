#include <plumbline/uncertainty/uncertain.hpp>

#include <algorithm>

namespace plumbline::inline v0::uncertainty {

std::vector<dependence> chain(std::span<const double> outer, std::span<const std::vector<dependence>* const> arguments) {
    std::vector<dependence> all;
    std::size_t count = 0;
    for (const auto* argument : arguments) count += argument->size();
    all.reserve(count);
    for (std::size_t a = 0; a < arguments.size(); ++a) {
        for (const dependence& d : *arguments[a]) all.push_back({d.on, outer[a] * d.sensitivity});
    }
    std::stable_sort(all.begin(), all.end(), [](const dependence& x, const dependence& y) { return x.on->id < y.on->id; });
    std::size_t kept = 0;
    for (std::size_t i = 1; i < all.size(); ++i) {
        if (all[i].on->id == all[kept].on->id) {
            all[kept].sensitivity += all[i].sensitivity;
        } else {
            all[++kept] = std::move(all[i]);
        }
    }
    if (!all.empty()) all.resize(kept + 1);
    return all;
}

}  // namespace plumbline::inline v0::uncertainty
