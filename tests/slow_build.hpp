#pragma once
// How much of what could be repeated for ever a test repeats.
//
// Slow builds do less: those with the sanitizers, and those whose processor is emulated (PLUMBLINE_SLOW_BUILD, defined by
// tests/portability/aarch64.cmake). The former look at what each step does to memory and arithmetic, the latter at whether another
// processor does the same. Both take some fifty times as long, and learn nothing from the thousandth repetition with other numbers.
//
// Where going through everything takes many seconds, the ordinary build takes a part too, and all of it where PLUMBLINE_THOROUGH_TESTS is set:
// tests/CMakeLists.txt has an entry `<room>/<subject>_thorough`, run by tests/run --all, for each file that asks.

#include <algorithm>
#include <cstddef>
#include <cstdlib>

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

/// Whether an ordinary build goes through everything.
[[nodiscard]] inline bool thorough() { return std::getenv("PLUMBLINE_THOROUGH_TESTS") != nullptr; }

/// Of what is gone through one by one, one in so many is looked at.
/// @param ordinarily  in an ordinary build that is not thorough; a slow one looks at one in 25 of these
[[nodiscard]] inline std::size_t looked_at_one_in(std::size_t ordinarily) { return (thorough() ? 1 : ordinarily) * one_in; }

/// Of what is gone through one by one, those that are looked at: `slow::choice looked_at; for (...) if (looked_at()) ...`
class choice {
public:
    /// @param ordinarily  one in so many is looked at, see looked_at_one_in
    explicit choice(std::size_t ordinarily = 1) : one_in_(looked_at_one_in(ordinarily)) {}
    [[nodiscard]] bool operator()() { return passed_++ % one_in_ == 0; }

private:
    std::size_t one_in_;
    std::size_t passed_ = 0;
};

}  // namespace slow
