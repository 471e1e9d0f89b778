// first error: plumbline needs NaN, infinity and the order of operations kept
// flags of the mistake: -ffinite-math-only
#include <plumbline/units/quantities.hpp>

plumbline::voltage twice(plumbline::voltage v) { return v + v; }
