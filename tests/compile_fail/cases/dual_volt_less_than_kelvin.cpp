// first error: these two quantities have unlike units
#include <plumbline/units/dual.hpp>

using volts = plumbline::dual<plumbline::voltage::unit_type, 2>;

bool less(const volts& v, [[maybe_unused]] plumbline::kelvins t) {
#ifdef MISTAKE
    return t > v;
#else
    return 1.0 * plumbline::volt > v;
#endif
}
