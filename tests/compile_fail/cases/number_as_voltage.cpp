// first error: could not convert .*to .*quantity|no viable conversion
#include <plumbline/units/quantities.hpp>

plumbline::voltage battery() {
#ifdef MISTAKE
    return 12.0;
#else
    return 12.0 * plumbline::volt;
#endif
}
