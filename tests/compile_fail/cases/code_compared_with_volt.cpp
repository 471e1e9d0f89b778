// first error: a raw code is not a voltage until a correction has been applied
#include <plumbline/units/quantities.hpp>

bool same(plumbline::codes c, [[maybe_unused]] plumbline::voltage v) {
#ifdef MISTAKE
    return c == v;
#else
    return c == c;
#endif
}
