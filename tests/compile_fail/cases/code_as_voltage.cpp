// first error: could not convert .*to .*quantity|no viable conversion
#include <plumbline/units/quantities.hpp>

plumbline::voltage reading(plumbline::codes c, [[maybe_unused]] plumbline::volts_per_code gain) {
#ifdef MISTAKE
    return c;
#else
    return gain * c;
#endif
}
