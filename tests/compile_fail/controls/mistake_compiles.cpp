// first error: a sentence that never comes
double twice(double x) {
#ifdef MISTAKE
    return x * 2.0;
#else
    return x + x;
#endif
}
