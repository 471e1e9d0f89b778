// first error: the sentence that comes
#ifdef MISTAKE
static_assert(false, "the sentence that comes");
#endif
