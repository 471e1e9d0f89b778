#pragma once
// A function kept by value. std::function would do, but <functional> is a tenth of all that a program reads with this library.

#include <concepts>
#include <cstddef>
#include <plumbline/error.hpp>
#include <type_traits>
#include <utility>

namespace plumbline::inline v0::uncertainty {

template <class Signature>
class function;

/// Holds a copy of whatever can be called so, or nothing. It is called through a const reference, so one function may be called by several
/// threads if what it holds may; a lambda that is `mutable` is refused.
template <class Result, class... Argument>
class function<Result(Argument...)> {
public:
    function() noexcept = default;
    function(std::nullptr_t) noexcept {}
    template <class F>
        requires(!std::same_as<std::remove_cvref_t<F>, function> &&
                 std::is_invocable_r_v<Result, const std::decay_t<F>&, Argument...>)
    function(F&& f) : held_(new holder<std::decay_t<F>>(std::forward<F>(f))) {}

    function(const function& other) : held_(other.held_ == nullptr ? nullptr : other.held_->copy()) {}
    function(function&& other) noexcept : held_(std::exchange(other.held_, nullptr)) {}
    function& operator=(function other) noexcept {
        std::swap(held_, other.held_);
        return *this;
    }
    ~function() { delete held_; }

    [[nodiscard]] explicit operator bool() const noexcept { return held_ != nullptr; }

    /// @throws bad_input  it holds nothing; and whatever the function throws
    Result operator()(Argument... arguments) const {
        if (held_ == nullptr) throw bad_input("a call", "found an empty function", "one to call", "give it a function first");
        return held_->call(std::forward<Argument>(arguments)...);
    }

private:
    struct callable {
        callable() = default;
        callable(const callable&) = delete;
        callable& operator=(const callable&) = delete;
        virtual ~callable() = default;
        [[nodiscard]] virtual callable* copy() const = 0;
        virtual Result call(Argument... arguments) const = 0;
    };

    template <class F>
    struct holder final : callable {
        template <class From>
        explicit holder(From&& from) : f(std::forward<From>(from)) {}
        [[nodiscard]] callable* copy() const override { return new holder(f); }
        Result call(Argument... arguments) const override { return f(std::forward<Argument>(arguments)...); }
        F f;
    };

    const callable* held_ = nullptr;
};

}  // namespace plumbline::inline v0::uncertainty
