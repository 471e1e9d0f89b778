// 1.000 V at code 1000 with 1 mV a code. Ends with 0 when the correction says so.
#include <plumbline/embedded/correction.hpp>

int main() {
    const auto by = plumbline::embedded::make_correction(INT64_C(1000) * 65536, 0, 0, 4095);
    return plumbline::embedded::correct(by, 1000) == 1000000 ? 0 : 1;
}
