// Univariate sets of NIST StRD as captures: decimals become whole codes, so that nothing is rounded before it is summed.

#include <plumbline/capture/statistics.hpp>

#include "../reference/correct_digits.hpp"
#include "../reference/published.hpp"

#include <cmath>
#include <limits>
#include <string>
#include <vector>

namespace capture_strd_test {

using namespace plumbline;
using published::check_digits;
using published::entry;

TEST_CASE("mean and scatter of captures have every digit that NIST StRD certifies") {
    struct row {
        const char* id;
        double codes_per_unit;
    };
    for (const row& r : {row{"strd-pidigits", 1.0}, row{"strd-lew", 1.0}, row{"strd-mavro", 1e4}, row{"strd-michelso", 100.0},
                         row{"strd-numacc1", 1.0}, row{"strd-numacc2", 10.0}, row{"strd-numacc3", 10.0}}) {
        const auto e = entry("nist-strd", r.id);
        const auto& in = e.at("inputs");
        capture::run run;
        const auto add = [&](double v) { run.codes.push_back(static_cast<std::int32_t>(std::lround(v * r.codes_per_unit))); };
        if (in.contains("data")) {
            for (const double v : in.at("data").get<std::vector<double>>()) add(v);
        } else if (in.contains("digits")) {
            for (const char digit : in.at("digits").get<std::string>()) add(digit - '0');
        } else {
            const std::string then = in.at("then");  // "1.1, 1.3 repeated 500 times"
            REQUIRE(then.ends_with("repeated 500 times"));
            add(in.at("first"));
            for (int i = 0; i < 500; ++i) {
                add(std::stod(then));
                add(std::stod(then.substr(then.find(',') + 1)));
            }
        }
        const auto& certified = e.at("expected");
        REQUIRE(run.codes.size() == certified.at("n").get<std::size_t>());
        const capture::statistics st =
            capture::summarise(run, std::numeric_limits<std::int32_t>::min(), std::numeric_limits<std::int32_t>::max());
        check_digits(r.id + std::string(" mean"), st.mean.value() / r.codes_per_unit, certified.at("mean"), 14.9);
        check_digits(r.id + std::string(" s"), st.s.value() / r.codes_per_unit, certified.at("sd"), 14.5);
    }
}

}  // namespace capture_strd_test
