// Const objects shared by threads: each gets what one alone gets. What this does under ThreadSanitizer is seen by race_free_test.

#include <doctest/doctest.h>

#include "../slow_build.hpp"

#include <functional>
#include <latch>
#include <plumbline/calibration/reading.hpp>
#include <plumbline/certificate/certificate.hpp>
#include <plumbline/record/canonical.hpp>
#include <plumbline/record/json.hpp>
#include <plumbline/uncertainty/monte_carlo.hpp>
#include <string>
#include <thread>
#include <vector>

namespace shared_objects_test {

using namespace plumbline;
using plumbline::uncertainty::monte_carlo_settings;

namespace {

constexpr unsigned threads = 4;

/// What each of four threads that begin together gets.
template <class Result>
std::vector<Result> at_once(const std::function<Result()>& each) {
    std::vector<Result> got(threads);
    std::latch together(threads);
    std::vector<std::thread> running;
    for (Result& mine : got) {
        running.emplace_back([&] {
            together.arrive_and_wait();
            mine = each();
        });
    }
    for (std::thread& t : running) t.join();
    return got;
}

std::string shipped_file() { return PLUMBLINE_SOURCE_DIR "/cal_records/PS2-0007-2025-03.json"; }

/// Whatever can be had of a record, in one text. The first caller in the program fills what the library keeps from then on, if anything.
std::string all_of(const record::record& r) {
    std::string all = record::to_json(r) + record::sections_digest(r) + certificate::text(r) + certificate::html(r);
    for (const auto& range : r.ranges) {
        const auto v = calibration::reading(r.inputs, r.references, range, 2000.0 * code, calibration::at_calibration(range));
        const auto b = uncertainty::make_convolved_budget(v);
        all += std::to_string(b.value) + " " + std::to_string(b.U) + "\n";
    }
    return all;
}

}  // namespace

TEST_CASE("threads that share one const record get the same record, certificates and readings" * doctest::skip(slow::build)) {
    const record::record shared = record::read_record(shipped_file());
    const std::vector<std::string> got = at_once<std::string>([&] { return all_of(shared); });
    const std::string alone = all_of(record::read_record(shipped_file()));
    CHECK(alone.size() > 50'000);
    for (const std::string& one : got) {
        const bool same = one == alone;  // too long to print
        CHECK(same);
    }
}

TEST_CASE("threads that read one file, or are refused it, do not disturb each other") {
    const auto message = [] {
        try {
            const record::record r = record::from_json("{\"plumbline\": \"record\", \"schema\": 1}", "short.json");
            return r.number;
        } catch (const bad_input& e) {
            return std::string(e.what());
        }
    };
    const record::record alone = record::read_record(shipped_file());
    for (const record::record& one : at_once<record::record>([] { return record::read_record(shipped_file()); })) {
        CHECK(record::to_json(one) == record::to_json(alone));
    }
    CHECK(at_once<std::string>(message) == std::vector<std::string>(threads, message()));
    CHECK(message().starts_with("short.json"));
}

TEST_CASE("runs of Monte Carlo that share settings, inputs and model, each with threads of its own, have the same bits") {
    uncertainty::input_set inputs;
    inputs.add({"v", "battery", "invented", "V", 12.4, uncertainty::normal{0.02}});
    inputs.add({"k", "divider", "invented", "1", 0.25, uncertainty::rectangular{0.001}});
    monte_carlo_settings settings;
    settings.trials = 40'000;
    settings.threads = 2;
    settings.progress = [](std::uint64_t done, std::uint64_t of) { return done <= of; };
    const auto run = [&] {
        return uncertainty::monte_carlo(settings, inputs, [](const auto& by) {
            return by.apply([](const auto& v, const auto& k) { return v * k; }, by.template input<voltage>("v"),
                            by.template input<ratio>("k"));
        });
    };
    const auto alone = run();
    for (const auto& one : at_once<uncertainty::monte_carlo_result>(run)) CHECK(one == alone);
}

}  // namespace shared_objects_test
