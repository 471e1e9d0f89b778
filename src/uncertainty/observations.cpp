#include <plumbline/uncertainty/observations.hpp>

#include <fmt/format.h>
#include <algorithm>
#include <cmath>
#include <numeric>
#include <plumbline/error.hpp>

namespace plumbline::inline v0::uncertainty {

namespace {

double mean(std::span<const double> x) {
    const double n = static_cast<double>(x.size());
    const double first = std::accumulate(x.begin(), x.end(), 0.0) / n;
    // a second pass takes up what the first one rounded away
    return first + std::accumulate(x.begin(), x.end(), 0.0, [&](double sum, double v) { return sum + (v - first); }) / n;
}

double sum_of_products(std::span<const double> x, std::span<const double> y) {
    const double mean_x = mean(x);
    const double mean_y = mean(y);
    double sum = 0.0;
    for (std::size_t i = 0; i < x.size(); ++i) sum += (x[i] - mean_x) * (y[i] - mean_y);
    return sum;
}

}  // namespace

double experimental_standard_deviation(std::span<const double> readings) {
    return std::sqrt(sum_of_products(readings, readings) / static_cast<double>(readings.size() - 1));
}

input observed(std::string id, std::string label, std::string source, std::string unit, std::span<const double> readings) {
    if (readings.size() < 2) {
        throw bad_input("input " + id, fmt::format("{} readings", readings.size()), "at least 2",
                        "take more readings: one shows no scatter");
    }
    if (!std::all_of(readings.begin(), readings.end(), [](double v) { return std::isfinite(v); })) {
        throw bad_input("input " + id, "a reading that is not finite", "finite readings",
                        "look at the data before it is averaged");
    }
    const double n = static_cast<double>(readings.size());
    const double u = experimental_standard_deviation(readings) / std::sqrt(n);
    return {std::move(id), std::move(label), std::move(source), std::move(unit), mean(readings), repeated{u, n - 1.0}};
}

double autocorrelation(std::span<const double> readings, std::size_t lag) {
    const double about = mean(readings);
    double products = 0.0;
    double squares = 0.0;
    for (std::size_t i = 0; i < readings.size(); ++i) {
        const double deviation = readings[i] - about;
        squares += deviation * deviation;
        if (lag < readings.size() - i) products += deviation * (readings[i + lag] - about);
    }
    return squares > 0.0 ? products / squares : 0.0;
}

double correlation_of_means(std::span<const double> x, std::span<const double> y) {
    const double product = std::sqrt(sum_of_products(x, x) * sum_of_products(y, y));
    return product > 0.0 ? std::clamp(sum_of_products(x, y) / product, -1.0, 1.0) : 0.0;
}

}  // namespace plumbline::inline v0::uncertainty
