#pragma once
// What slow builds do less often: those with the sanitizers, and those whose processor is emulated (PLUMBLINE_SLOW_BUILD, defined by
// tests/portability/aarch64.cmake). The former look at what each step does to memory and arithmetic, the latter at whether another
// processor does the same. Both take some fifty times as long, and learn nothing from the thousandth repetition with other numbers. The ordinary
// build makes them all.

#include <algorithm>
#include <cstddef>

namespace slow {

#if defined(__SANITIZE_ADDRESS__) || defined(PLUMBLINE_SLOW_BUILD)
inline constexpr bool build = true;
#elif defined(__has_feature)
#if __has_feature(address_sanitizer)
inline constexpr bool build = true;
#else
inline constexpr bool build = false;
#endif
#else
inline constexpr bool build = false;
#endif

inline constexpr std::size_t one_in = build ? 25 : 1;

/// Of so many repetitions those that are made: all, or one in 25 and at least one.
template <class Whole>
[[nodiscard]] constexpr Whole repetitions(Whole all) {
    return std::max(all / static_cast<Whole>(one_in), Whole{1});
}

/// Of what is gone through one by one, those that are looked at: `slow::choice looked_at; for (...) if (looked_at()) ...`
class choice {
public:
    /// @param in_any_build  one in so many is looked at in an ordinary build too
    explicit choice(std::size_t in_any_build = 1) : one_in_(std::max(in_any_build, one_in)) {}
    [[nodiscard]] bool operator()() { return passed_++ % one_in_ == 0; }

private:
    std::size_t one_in_;
    std::size_t passed_ = 0;
};

}  // namespace slow
