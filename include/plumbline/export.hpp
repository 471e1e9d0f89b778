#pragma once
// What a shared library of this project shows: it is compiled with everything hidden, and these are seen all the same.

#if defined(__GNUC__) && !defined(_WIN32)
#define PLUMBLINE_EXPORT __attribute__((visibility("default")))
#else
#define PLUMBLINE_EXPORT
#endif
