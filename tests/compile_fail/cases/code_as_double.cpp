// first error: cannot convert .*double|no viable conversion .*double
#include <plumbline/units/quantities.hpp>

double number(plumbline::codes c) {
#ifdef MISTAKE
    return c;
#else
    return c.value();
#endif
}
