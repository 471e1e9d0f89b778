// embed RECORD.json CODE: one sample of the record's first range as a voltage with its plus-or-minus. Shows how little a program needs.

#include <plumbline/calibration/reading.hpp>
#include <plumbline/certificate/rounding.hpp>
#include <plumbline/record/json.hpp>
#include <plumbline/uncertainty/budget.hpp>

#include <fmt/core.h>

#include <charconv>
#include <cstring>
#include <exception>

int main(int argc, char** argv) {
    double code = 0.0;
    const char* end = argc == 3 ? argv[2] + std::strlen(argv[2]) : nullptr;
    if (argc != 3 || std::from_chars(argv[2], end, code).ptr != end) {
        fmt::print(stderr, "usage: embed RECORD.json CODE\n  embed certificates/PS2-0007-2025-03.json 2911\n");
        return 2;
    }
    try {
        const auto record = plumbline::record::read_record(argv[1]);
        const auto& range = record.ranges.front();  // a record has at least one
        const auto when = plumbline::calibration::at_calibration(range);
        const auto volts = plumbline::calibration::reading(record.inputs, record.references, range, code * plumbline::code, when);
        const auto budget =
            plumbline::uncertainty::make_convolved_budget(volts, record.coverage_probability, record.correlations);
        const auto rounded = plumbline::certificate::round_with_prefix(budget.value, budget.U, budget.unit);
        fmt::print("channel {}, {}: {}, k = {:.2f}\n", range.channel, range.range, rounded.plus_minus(), budget.covered.k);
    } catch (const std::exception& failure) {
        fmt::print(stderr, "embed: {}\n", failure.what());
        return 2;
    }
}
