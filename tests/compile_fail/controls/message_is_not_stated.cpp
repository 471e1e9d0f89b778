#ifdef MISTAKE
static_assert(false, "a sentence that nobody expects");
#endif
