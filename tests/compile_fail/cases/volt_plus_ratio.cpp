// first error: these two quantities have unlike units
#include <plumbline/units/quantities.hpp>

plumbline::voltage grow(plumbline::voltage v, plumbline::ratio r) {
#ifdef MISTAKE
    return v + r;
#else
    return v + r * v;
#endif
}
