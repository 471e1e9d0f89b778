// Mean, standard deviation and one-way analysis of variance of NIST StRD against the type A evaluation of this library.

#include <plumbline/uncertainty/observations.hpp>

#include "../reference/correct_digits.hpp"
#include "../reference/published.hpp"

#include <cmath>
#include <string>
#include <vector>

namespace uncertainty_strd_test {

using namespace plumbline;
using namespace plumbline::uncertainty;
using published::check_digits;
using published::entry;

namespace {

/// The readings, however the entry holds them: a list, a string of digits, or a first one and two that alternate.
std::vector<double> readings(const nlohmann::json& e) {
    const auto& in = e.at("inputs");
    if (in.contains("data")) return in.at("data").get<std::vector<double>>();
    std::vector<double> values;
    if (in.contains("digits")) {
        for (const char digit : in.at("digits").get<std::string>()) values.push_back(digit - '0');
        return values;
    }
    const std::string then = in.at("then");  // "1.1, 1.3 repeated 500 times"
    values.push_back(in.at("first"));
    const double one = std::stod(then);
    const double other = std::stod(then.substr(then.find(',') + 1));
    REQUIRE(then.ends_with("repeated 500 times"));
    for (int i = 0; i < 500; ++i) values.insert(values.end(), {one, other});
    return values;
}

}  // namespace

TEST_CASE("means and standard deviations of NIST StRD have the correct digits that their doubles hold, autocorrelations too") {
    struct row {
        const char* id;
        double mean;  // at least so many digits
        double s;
        double lag1;
    };
    // Exact rational arithmetic on the data rounded to doubles gives s of Mavro 13.12 digits, of Michelso 13.84 and of NumAcc3 9.46, the
    // lag-1 autocorrelation of Mavro 13.93, of Michelso 13.44 and of NumAcc3 12.24: more is not in the doubles.
    for (const row& r :
         {row{"strd-pidigits", 14.9, 14.7, 14.0}, row{"strd-lew", 14.9, 14.9, 14.0}, row{"strd-mavro", 14.9, 13.0, 13.7},
          row{"strd-michelso", 14.9, 13.7, 13.4}, row{"strd-numacc1", 14.9, 14.9, 14.9}, row{"strd-numacc2", 14.9, 14.0, 14.3},
          row{"strd-numacc3", 14.9, 9.4, 12.2}}) {
        const auto e = entry("nist-strd", r.id);
        const std::vector<double> values = readings(e);
        const auto& certified = e.at("expected");
        REQUIRE(values.size() == certified.at("n").get<std::size_t>());
        const input mean = observed("mean", "mean", "StRD", "V", values);
        check_digits(r.id + std::string(" mean"), mean.estimate, certified.at("mean"), r.mean);
        check_digits(r.id + std::string(" sd"), experimental_standard_deviation(values), certified.at("sd"), r.s);
        check_digits(r.id + std::string(" lag 1"), autocorrelation(values), certified.at("lag1"), r.lag1);
        CHECK(autocorrelation(values, values.size()) == 0.0);
        CHECK(degrees_of_freedom(mean.spread) == static_cast<double>(values.size()) - 1.0);
    }
}

TEST_CASE("the analysis of variance of SiRstv of NIST StRD comes out of means and standard deviations of its groups") {
    const auto e = entry("nist-strd", "strd-sirstv");
    const auto groups = e.at("inputs").at("groups").get<std::vector<std::vector<double>>>();
    std::vector<double> means;
    double within = 0.0;
    for (const auto& group : groups) {
        const double s = experimental_standard_deviation(group);
        within += s * s * static_cast<double>(group.size() - 1);
        means.push_back(observed("mean", "mean", "StRD", "ohm", group).estimate);
    }
    const double s_of_means = experimental_standard_deviation(means);
    const double n = static_cast<double>(groups.front().size());
    const double between_dof = static_cast<double>(groups.size() - 1);
    const double within_dof = static_cast<double>(groups.size()) * (n - 1.0);
    const double between = n * s_of_means * s_of_means * between_dof;
    const auto& certified = e.at("expected");
    CHECK(between_dof == certified["dof"][0].get<double>());
    CHECK(within_dof == certified["dof"][1].get<double>());
    // exact rational arithmetic on the data rounded to doubles leaves 14.03 digits of the first, 13.12 of the second and 13.06 of F
    check_digits("SiRstv between", between, certified["between_ss"], 13.2);
    check_digits("SiRstv within", within, certified["within_ss"], 13.0);
    check_digits("SiRstv F", (between / between_dof) / (within / within_dof), certified["F"], 12.8);
    check_digits("SiRstv R squared", between / (between + within), certified["r_squared"], 12.9);
    check_digits("SiRstv residual sd", std::sqrt(within / within_dof), certified["residual_sd"], 13.2);
}

}  // namespace uncertainty_strd_test
