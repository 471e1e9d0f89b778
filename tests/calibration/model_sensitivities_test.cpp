// Every sensitivity of every model, by dual quantities against finite differences; and a look through the sources for a model that is left out.

#include "../../src/calibration/models.hpp"

#include <doctest/doctest.h>
#include <algorithm>
#include <array>
#include <cmath>
#include <fstream>
#include <iterator>
#include <plumbline/calibration/reading.hpp>
#include <plumbline/front_end/amplifier.hpp>
#include <plumbline/front_end/node.hpp>
#include <plumbline/front_end/sampling.hpp>
#include <plumbline/uncertainty/line_use.hpp>
#include <regex>
#include <set>
#include <string>
#include <tuple>
#include <utility>

namespace model_sensitivities_test {

using namespace plumbline;
namespace cm = plumbline::calibration::models;
namespace fe = plumbline::front_end;

namespace {

std::set<std::string>& looked_at() {
    static std::set<std::string> names;
    return names;
}

/// Central differences over two steps, error of the fourth order.
template <class Model, class... Quantity>
void check(const std::string& name, const Model& model, const Quantity&... at) {
    looked_at().insert(name);
    constexpr std::size_t n = sizeof...(Quantity);
    const auto y = [&]<std::size_t... I>(std::index_sequence<I...>) {
        return model(dual<typename Quantity::unit_type, n>::variable(at, I)...);
    }
    (std::make_index_sequence<n>{});
    const std::array<double, n> middle{at.value()...};
    const auto value = [&](const std::array<double, n>& x) {
        return [&]<std::size_t... I>(std::index_sequence<I...>) {
            return plumbline::detail::number(model(Quantity::from_value(x[I])...));
        }
        (std::make_index_sequence<n>{});
    };
    const double here = value(middle);
    CAPTURE(name);
    CHECK(std::abs(plumbline::detail::number(y) - here) <= 1e-15 * std::abs(here));
    for (std::size_t i = 0; i < n; ++i) {
        const double h = 1e-3 * (middle[i] == 0.0 ? 1.0 : std::abs(middle[i]));
        const auto moved = [&](double steps) {
            std::array<double, n> x = middle;
            x[i] += steps * h;
            return value(x);
        };
        const double expected = (8.0 * (moved(1.0) - moved(-1.0)) - (moved(2.0) - moved(-2.0))) / (12.0 * h);
        CAPTURE(i);
        CHECK(std::abs(y.derivative(i) - expected) <= 1e-9 * std::abs(expected) + 1e-11 * std::abs(here) / h);
    }
}

constexpr auto V = [](double x) { return voltage::from_value(x); };
constexpr auto C = [](double x) { return codes::from_value(x); };
constexpr auto R = [](double x) { return resistance::from_value(x); };
constexpr auto A = [](double x) { return current::from_value(x); };
constexpr auto one_of = [](double x) { return ratio::from_value(x); };

void check_all() {
    check("two_point_reading", calibration::two_point_reading{}, C(2731.0), C(12.4), C(4002.7), V(0.01), V(5.0));
    check("two_point_gain", calibration::two_point_gain{}, C(12.4), C(4002.7), V(0.01), V(5.0));

    for (const fe::branches present : {fe::branches{true, true}, fe::branches{true, false}, fe::branches{false, true}}) {
        check("shunt_conductance", fe::shunt_conductance{present}, R(12e3), R(33e3));
        check("connector_voltage", fe::connector_voltage{present}, V(1.3), R(100e3), R(12e3), R(33e3), V(3.3));
        check("open_voltage", fe::open_voltage{present}, R(12e3), R(33e3), V(3.3));
        check("connector_voltage", fe::connector_voltage{present}, V(1.3), R(100e3), R(12e3), R(33e3), V(3.3), A(2e-8));
        check("open_voltage", fe::open_voltage{present}, R(12e3), R(33e3), V(3.3), A(2e-8));
        check("input_resistance", fe::input_resistance{present}, R(100e3), R(12e3), R(33e3));
        check("pin_resistance", fe::pin_resistance{present}, R(100e3), R(12e3), R(33e3));
        check("nominal_reading", fe::nominal_reading{12, present}, C(2731.0), C(1.5), one_of(2e-3), V(3.0), R(100e3), R(12e3),
              R(33e3), V(3.3));
    }
    check("loaded", fe::loaded{}, V(5.0), R(1e3), V(0.04), R(1e6));
    check("unloaded", fe::unloaded{}, V(5.0), R(1e3), V(0.04), R(1e6));
    check("converter_voltage", fe::converter_voltage{12}, C(2731.0), C(1.5), one_of(2e-3), V(3.0));
    check("node_voltage", fe::node_voltage{12}, C(2731.0), V(3.0));
    check("deviated", fe::deviated{}, R(12e3), one_of(1e-3));

    check("inverse_gain", fe::inverse_gain{}, one_of(5e-4), R(30e3), R(10e3));
    check("before_amplifier", fe::before_amplifier{}, V(1.6), V(1e-3), A(25e-9), one_of(5e-4), R(30e3), R(10e3));
    check("closed_loop_gain", fe::closed_loop_gain{}, one_of(2e3), R(30e3), R(10e3));
    check("amplified", fe::amplified{}, V(0.4), R(50e3), V(1e-3), A(30e-9), A(25e-9), one_of(2e3), R(30e3), R(10e3));
    check("fed_reference", fe::fed_reference{}, V(3.3), A(2e-3), R(10.0));

    check("line_reading", uncertainty::line_reading<codes>{C(2000.0)}, C(2731.0), V(2.5), volts_per_code::from_value(1.2e-3));
    check("line_inverse", uncertainty::line_inverse<codes>{C(2000.0)}, V(3.4), V(2.5), volts_per_code::from_value(1.2e-3));

    check("sum", cm::sum{}, V(1.0), V(-0.3), V(0.02));
    check("difference", cm::difference{}, V(1.0), V(0.3));
    check("straight", cm::straight{volts_per_code::from_value(1.2e-3), V(0.1)}, C(2731.0));
    check("stated_with_error", cm::stated_with_error{V(5.0), V(0.004)}, one_of(0.3));
    calibration::meter by{};
    by.of_reading = 0.005;
    by.counts = 3.0;
    by.count = V(0.01);
    check("metered", cm::metered{V(12.3), by, 1.4}, one_of(0.2), one_of(-0.6), V(0.003));
    check("part_output", cm::part_output{V(5.0)}, one_of(1e-3), one_of(-2e-4), one_of(3e-4), one_of(1e-5), V(1e-4));
    check("without_meter", cm::without_meter{R(10e6)}, V(5.0), R(22e3));
    check("bow", cm::bow{C(1200.0), C(4096.0)}, C(1.5));
    check("moved", cm::moved{}, V(5.0), one_of(1e-3), one_of(-4e-4), V(2e-3), V(-1e-3));
    check("turned_about", cm::turned_about{V(-9.7)}, V(5.0), one_of(1e-3));
    check("divider_voltage", cm::divider_voltage{}, V(12.0), R(10e3), R(4.7e3));
    check("divider_source_resistance", cm::divider_source_resistance{}, R(10e3), R(4.7e3));
    check("averaged_code", cm::averaged_code{64.0}, C(2731.0), C(0.8), C(0.1), C(-0.3));
    constexpr auto K = [](double x) { return kelvins::from_value(x); };
    check("relative_change", cm::relative_change{K(15.0)}, volts_per_code::from_value(1.2e-3), volts_per_code::from_value(1.3e-3),
          K(0.1), K(-0.2));
    check("change", cm::change{K(15.0)}, V(1.0), V(1.1), K(0.1), K(-0.2));
    check("between", cm::between{K(15.0), K(4.0)}, V(1.0), V(1.1), K(0.1), K(-0.2), K(0.3));
    check("negated", cm::negated{}, V(5.0));
    const volts_per_code slope = volts_per_code::from_value(1.2e-3);
    check("with_point", cm::with_point<double>{0.3, V(5.0), slope, C(4002.0)}, V(2.0), V(5.1), C(4003.0));
    check("by_height_and_slope", cm::by_height_and_slope{C(2000.0)}, C(2731.0), V(2.5), slope);
    check("by_temperature", cm::by_temperature{}, V(5.0), one_of(1e-3), V(2e-3));
    constexpr auto per_K = [](double x) { return per_kelvin::from_value(x); };
    constexpr auto V_per_K = [](double x) { return volts_per_kelvin::from_value(x); };
    check("by_measured_temperature", cm::by_measured_temperature{{V(1.5), V_per_K(3e-4), V_per_K(1e-5)}, per_K(2e-4)}, V(5.0),
          K(9.0), K(0.4), per_K(1e-3) * K(1.0), V(2e-3));
    check("times", cm::times{1.2}, C(0.5));
}

/// Names of the generic callables of a file: a struct that has templates of operator() and nothing else that is called so.
std::set<std::string> models_of(const std::string& file) {
    std::ifstream in(std::string(PLUMBLINE_SOURCE_DIR "/") + file);
    REQUIRE(in.good());
    const std::string text((std::istreambuf_iterator<char>(in)), {});
    const std::regex token(R"((?:^|\n)struct (\w+)(?: final)? \{|(auto operator\(\)\((?!const std::string)))");
    std::set<std::string> found;
    std::string last;
    for (std::sregex_iterator i(text.begin(), text.end(), token), end; i != end; ++i) {
        if ((*i)[1].matched) {
            last = (*i)[1];
        } else {
            found.insert(last);
        }
    }
    return found;
}

}  // namespace

TEST_CASE("every sensitivity of every model is that of finite differences, and no model is left out") {
    check_all();
    std::set<std::string> in_sources;
    for (const char* file : {"include/plumbline/calibration/reading.hpp", "include/plumbline/front_end/node.hpp",
                             "include/plumbline/front_end/amplifier.hpp", "include/plumbline/front_end/sampling.hpp",
                             "include/plumbline/uncertainty/line_use.hpp", "src/calibration/models.hpp"}) {
        CAPTURE(file);
        const std::set<std::string> here = models_of(file);
        CHECK_FALSE(here.empty());
        in_sources.insert(here.begin(), here.end());
    }
    for (const std::string& name : in_sources) {
        CAPTURE(name);
        CHECK(looked_at().contains(name));
    }
    CHECK(in_sources.size() == looked_at().size());
}

}  // namespace model_sensitivities_test
