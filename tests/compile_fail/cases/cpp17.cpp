// first error: plumbline needs C\+\+20
// flags of the mistake: -std=c++17
#include <plumbline/units/quantities.hpp>

plumbline::voltage twice(plumbline::voltage v) { return v + v; }
