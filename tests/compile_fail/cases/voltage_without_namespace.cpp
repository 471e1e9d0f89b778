// first error: .voltage. does not name a type|unknown type name .voltage.
#include <plumbline/units/quantities.hpp>

#ifdef MISTAKE
voltage twice(voltage v) { return v + v; }
#else
plumbline::voltage twice(plumbline::voltage v) { return v + v; }
#endif
