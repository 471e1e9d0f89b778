// first error: plumbline needs NaN, infinity and the order of operations kept
// flags of the mistake: -ffast-math
#include <plumbline/uncertainty/coverage.hpp>

double no_more_than_a_number() { return plumbline::uncertainty::infinite; }
