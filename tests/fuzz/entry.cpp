// libFuzzer's way into a fuzzer: FUZZER, csv_fuzz for one.

#include <cstddef>
#include <cstdint>
#include <string_view>

namespace FUZZER {
void check(std::string_view input);
}

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    FUZZER::check({reinterpret_cast<const char*>(data), size});
    return 0;
}
