// first error: the second sentence
#ifdef MISTAKE
static_assert(false, "the first sentence");
static_assert(false, "the second sentence");
#endif
