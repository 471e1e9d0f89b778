#pragma once
// What a refusal says.

#include <plumbline/error.hpp>
#include <string>

namespace refused {

/// What bad_input says when f is called.
template <class F>
std::string message(F&& f) {
    try {
        f();
    } catch (const plumbline::bad_input& e) {
        return e.what();
    }
    return "no exception";
}

}  // namespace refused
