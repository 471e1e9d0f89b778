// first error: does not matter here
double twice(double x) { return x + x }
