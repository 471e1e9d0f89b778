// first error: a bare number has no unit
#include <plumbline/units/quantities.hpp>

bool negative(plumbline::voltage v) {
#ifdef MISTAKE
    return 0 > v;
#else
    return 0 * plumbline::volt > v;
#endif
}
