// first error: a raw code is not a voltage until a correction has been applied
#include <plumbline/units/quantities.hpp>

void add(plumbline::voltage& v, [[maybe_unused]] plumbline::codes c) {
#ifdef MISTAKE
    v += c;
#else
    v += v;
#endif
}
