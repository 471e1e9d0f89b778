// Worked examples of JCGM 100, JCGM 101 and EA-4/02, by the library's functions as they are: nothing here is made for one of them.

#include "../reference/published.hpp"
#include "../slow_build.hpp"

#include <cmath>
#include <plumbline/uncertainty/monte_carlo.hpp>
#include <plumbline/uncertainty/observations.hpp>
#include <plumbline/uncertainty/second_order.hpp>
#include <string>
#include <vector>

namespace worked_examples {

using namespace plumbline;
using namespace plumbline::uncertainty;
using published::check_printed;
using published::entry;

namespace {

using list = std::vector<double>;

uncertain<ratio> given(input_set& set, const std::string& id, double estimate, distribution spread) {
    return from_input<ratio>(set.add({id, id, "published", "1", estimate, std::move(spread)}));
}

double u_of(const input& x) { return standard_uncertainty(x.spread); }

}  // namespace

TEST_CASE("the activity of radon in water of GUM H.4 comes out of correlated rates, and out of their ratios") {
    const auto e = entry("worked-examples", "gum-h4-radioactivity");
    const auto& in = e["inputs"];
    const auto counted = [&](const char* counts, const char* at) {
        list rates;
        for (std::size_t i = 0; i < in[at].size(); ++i) {
            const double net = in[counts][i].get<double>() - in["CB"][i].get<double>();
            rates.push_back(net / in["counting_min"].get<double>() *
                            std::exp(in["decay_per_min"].get<double>() * in[at][i].get<double>()));
        }
        return rates;
    };
    const list sample = counted("Cx", "tx_min");
    const list standard = counted("CS", "tS_min");
    list ratios;
    for (std::size_t i = 0; i < sample.size(); ++i) ratios.push_back(sample[i] / standard[i]);

    input_set set;
    const auto rate_x = set.add(observed("Rx", "Rx", "table H.8", "1", sample));
    const auto rate_s = set.add(observed("RS", "RS", "table H.8", "1", standard));
    const auto rates = set.add(observed("R", "R", "table H.8", "1", ratios));
    check_printed(e, "Rx", rate_x->estimate);
    check_printed(e, "u_Rx", u_of(*rate_x));
    check_printed(e, "RS", rate_s->estimate);
    check_printed(e, "u_RS", u_of(*rate_s));
    check_printed(e, "R", rates->estimate);
    check_printed(e, "u_R", u_of(*rates));
    const std::vector<correlation> r = {{"Rx", "RS", correlation_of_means(sample, standard)}};
    check_printed(e, "r_Rx_RS", r[0].coefficient);

    const auto activity = given(set, "AS", in["AS_Bq_per_g"], normal{in["u_AS"]});
    const auto m_s = given(set, "mS", in["mS_g"], normal{in["u_mS"]});
    const auto m_x = given(set, "mx", in["mx_g"], normal{in["u_mx"]});
    const auto model = [](const auto& a, const auto& s, const auto& x, const auto& of_rates) { return a * s / x * of_rates; };
    const auto quotient =
        first_order([](const auto& x, const auto& s) { return x / s; }, from_input<ratio>(rate_x), from_input<ratio>(rate_s));
    const budget by_rates = make_budget(first_order(model, activity, m_s, m_x, quotient), 0.95, r);
    check_printed(e, "Ax", by_rates.value);
    check_printed(e, "u_Ax", by_rates.u);
    const budget by_ratios = make_budget(first_order(model, activity, m_s, m_x, from_input<ratio>(rates)), 0.95);
    check_printed(e, "Ax_by_ratios", by_ratios.value);
    check_printed(e, "u_Ax_by_ratios", by_ratios.u);
}

TEST_CASE("days that differ more than readings of one day have the u of GUM H.5, and pooled a smaller one") {
    const auto e = entry("worked-examples", "gum-h5-between-days");
    const auto means = e["inputs"]["means_above_10_V_uV"].get<list>();
    const double K = e["inputs"]["per_day"];
    const double J = e["inputs"]["days"];
    double within = 0.0;
    for (const double s : e["inputs"]["s_within_uV"].get<list>()) within += s * s / J;
    const input all = observed("V", "V", "table H.9", "V", means);
    const double s_means = experimental_standard_deviation(means);
    check_printed(e, "mean_uV", all.estimate);
    check_printed(e, "s_means_uV", s_means);
    check_printed(e, "sa_uV", std::sqrt(K) * s_means);
    check_printed(e, "sb_uV", std::sqrt(within));
    check_printed(e, "s_between_uV", std::sqrt(s_means * s_means - within / K));
    check_printed(e, "u_uV", u_of(all));
    CHECK(degrees_of_freedom(all.spread) == J - 1.0);
    const double squares = (J - 1.0) * K * s_means * s_means + J * (K - 1.0) * within;
    check_printed(e, "u_pooled_uV", std::sqrt(squares / (J * K - 1.0) / (J * K)));
}

TEST_CASE(
    "the comparison loss of JCGM 101 9.4: first order vanishes with its sensitivities, second order and Monte Carlo do not" *
    doctest::skip(slow::build)) {
    const auto e = entry("worked-examples", "jcgm101-9.4-comparison-loss");
    const auto& cases = e["inputs"]["cases"];
    REQUIRE(cases.size() == 6);
    const auto composition = [](const auto& at) {
        return at.apply([](const auto& a, const auto& b) { return a * a + b * b; }, at.template input<ratio>("X1"),
                        at.template input<ratio>("X2"));
    };
    const auto check = [&](const char* key, std::size_t i, double found) {
        CAPTURE(key);
        CAPTURE(found);
        CHECK(std::abs(1e6 * found - e["expected"][key][i].get<double>()) <= e["tolerance"]["absolute"][key].get<double>());
    };
    for (std::size_t i = 0; i < cases.size(); ++i) {
        CAPTURE(i);
        const double u = e["inputs"]["u"];
        const double x1 = cases[i]["x1"];
        const double r = cases[i]["r"];
        input_set set;
        given(set, "X1", x1, normal{u});
        given(set, "X2", 0.0, normal{u});
        std::vector<correlation> stated;
        if (r != 0.0) stated.push_back({"X1", "X2", r});
        const budget first = make_budget(composition(with_sensitivities{set}), e["inputs"]["p"], stated);
        check("y_first_1e6", i, first.value);
        check("u_first_1e6", i, first.u);
        const budget second = make_budget(second_order(set, composition, stated), e["inputs"]["p"]);
        check("u_second_1e6", i, second.u);
        CHECK(unseen_by_first_order(second).empty() == (x1 == 0.050));

        monte_carlo_settings s;
        s.probability = e["inputs"]["p"];
        s.correlations = stated;
        const sampled_output y = monte_carlo(s, set, composition).outputs[0];
        check("mcm_y_1e6", i, y.mean);
        check("mcm_u_1e6", i, y.standard_deviation);
        CHECK(std::abs(y.mean - (x1 * x1 + 2.0 * u * u)) <=
              5.0 * y.standard_deviation / std::sqrt(static_cast<double>(s.trials)));
        // ends of the shortest interval of two runs of 10^6 trials
        const auto& printed = e["expected"]["mcm_shortest_1e6"][i];
        const double scatter = 0.02e6 * y.standard_deviation + 0.5;
        CAPTURE(y.shortest.low);
        CAPTURE(y.shortest.high);
        CHECK(std::abs(1e6 * y.shortest.low - printed[0].get<double>()) <= scatter);
        CHECK(std::abs(1e6 * y.shortest.high - printed[1].get<double>()) <= scatter);
    }
}

TEST_CASE("the vernier caliper of EA-4/02 S10 has the k of its two dominant rectangular terms") {
    const auto e = entry("worked-examples", "ea-s10-vernier-caliper");
    const auto& in = e["inputs"];
    input_set set;
    const auto within = [&](const char* id, double half_width_um) {
        return given(set, id, 0.0, rectangular{1e-3 * half_width_um});
    };
    const double block_mm = in["block_mm"];
    const auto block = given(set, "block", block_mm, rectangular{1e-3 * in["block_halfwidth_um"].get<double>()});
    const auto temperature =
        within("temperature", 1e3 * block_mm * in["alpha_per_C"].get<double>() * in["dt_halfwidth_C"].get<double>());
    const auto resolution = within("resolution", in["resolution_halfwidth_um"]);
    const auto mechanical = within("mechanical", in["mechanical_halfwidth_um"]);
    const double p = in["p"];
    const budget b = make_budget(first_order([&](const auto& l, const auto& t, const auto& i,
                                                 const auto& m) { return in["indicated_mm"].get<double>() - l + t + i + m; },
                                             block, temperature, resolution, mechanical),
                                 p);
    check_printed(e, "EX_mm", b.value);
    check_printed(e, "U_mm", b.U);
    CHECK(b.covered.how == coverage::method::convolution);
    const budget dominant =
        make_budget(first_order([](const auto& i, const auto& m) { return i + m; }, resolution, mechanical), p);
    check_printed(e, "k", dominant.covered.k);
    CHECK(std::abs(b.covered.k - dominant.covered.k) <= 0.01);
}

}  // namespace worked_examples
