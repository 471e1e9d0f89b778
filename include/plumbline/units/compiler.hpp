#pragma once
// What the compiler has to be set to, said in a sentence where it is not.

#if __cplusplus < 202002L
#error plumbline needs C++20: compile with -std=c++20, or target_compile_features(... cxx_std_20)
#endif

// Refusals of NaN and infinity would be optimised away, and sums reordered: results that differ from those of the library's tests.
#if defined(__FAST_MATH__) || (defined(__FINITE_MATH_ONLY__) && __FINITE_MATH_ONLY__ > 0)
#error plumbline needs NaN, infinity and the order of operations kept: compile without -ffast-math, -Ofast and -ffinite-math-only
#endif
