// first error: a sentence that never comes
#ifdef MISTAKE
static_assert(false, "another sentence");
#endif
