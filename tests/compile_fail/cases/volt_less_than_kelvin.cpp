// first error: these two quantities have unlike units
#include <plumbline/units/quantities.hpp>

bool less(plumbline::voltage v, [[maybe_unused]] plumbline::kelvins t) {
#ifdef MISTAKE
    return v < t;
#else
    return v < 2.0 * v;
#endif
}
