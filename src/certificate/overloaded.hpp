#pragma once
// One function object out of several lambdas, for std::visit.

namespace plumbline::inline v0::certificate {

template <class... F>
struct overloaded : F... {
    using F::operator()...;
};
template <class... F>
overloaded(F...) -> overloaded<F...>;

}  // namespace plumbline::inline v0::certificate
