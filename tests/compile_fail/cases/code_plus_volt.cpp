// first error: a raw code is not a voltage until a correction has been applied
#include <plumbline/units/quantities.hpp>

plumbline::voltage sum(plumbline::voltage v, [[maybe_unused]] plumbline::codes c) {
#ifdef MISTAKE
    return v + c;
#else
    return v + v;
#endif
}
