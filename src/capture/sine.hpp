#pragma once
// Least squares of a sine of given frequency, with mean and, on request, trend.

#include <array>
#include <cstddef>
#include <vector>

namespace plumbline::inline v0::capture {

/// Sums over a capture that its least squares hang on: with t = i - (n - 1)/2, c = cos(2 pi f t) and s = sin(2 pi f t). They may be taken
/// sample by sample or, where the capture's part is not needed, as closed sums.
struct sums_with_sine {
    double n = 0.0;
    double c = 0.0;
    double cc = 0.0;
    double ss = 0.0;
    double ts = 0.0;
    double tt = 0.0;
    double x1 = 0.0;  ///< sum of x
    double xc = 0.0;
    double xs = 0.0;
    double xt = 0.0;
};

/// x_i = m + g t + a cos(2 pi f t) + b sin(2 pi f t) with t = i - (n - 1)/2.
struct sine_at {
    double m = 0.0;
    double g = 0.0;
    double a = 0.0;
    double b = 0.0;
    double variance_of_g = 0.0;  ///< of samples of variance 1; 0 without trend
    double variance_of_a = 0.0;
    double variance_of_b = 0.0;
    double residual = 0.0;  ///< sum of squares left, where fit_sine_at has looked at the samples
    [[nodiscard]] double amplitude_squared() const { return a * a + b * b; }
};

/// Solves the normal equations. Even and odd functions of t have no products: 1 and cos are one pair, t and sin the other.
[[nodiscard]] sine_at solve(const sums_with_sine& by, bool with_trend);

/// @param f  periods per sample, in (0, 1/2); more than n points are needed than parameters
[[nodiscard]] sine_at fit_sine_at(const std::vector<double>& x, double f, bool with_trend);

/// The frequency near `start` whose sine leaves the least, searched within +- reach. @return periods per sample
[[nodiscard]] double refine_frequency(const std::vector<double>& x, double start, double reach, bool with_trend);

/// Cosine and sine of 2 pi f t for t = 0, 1, ... from a start, by rotation, set right every 64 steps.
class turning {
public:
    turning(double f, double t);
    void step();
    [[nodiscard]] double cosine() const { return c_; }
    [[nodiscard]] double sine() const { return s_; }

private:
    void set();
    double f_, t_;
    double c_ = 1.0, s_ = 0.0, dc_, ds_;
    int steps_ = 0;
};

/// Solves A x = b for symmetric positive A of size N, in place, by elimination. @return false: not positive
template <std::size_t N>
[[nodiscard]] bool solve_symmetric(std::array<std::array<double, N>, N> A, std::array<double, N>& b) {
    for (std::size_t i = 0; i < N; ++i) {
        if (!(A[i][i] > 0.0)) return false;
        for (std::size_t r = i + 1; r < N; ++r) {
            const double factor = A[r][i] / A[i][i];
            for (std::size_t c = i; c < N; ++c) A[r][c] -= factor * A[i][c];
            b[r] -= factor * b[i];
        }
    }
    for (std::size_t i = N; i-- > 0;) {
        for (std::size_t c = i + 1; c < N; ++c) b[i] -= A[i][c] * b[c];
        b[i] /= A[i][i];
    }
    return true;
}

}  // namespace plumbline::inline v0::capture
