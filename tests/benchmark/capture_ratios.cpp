// One-pass statistics beside a bare histogram, and codes to volts beside memcpy of as many bytes as are written.

#include "ratios.hpp"

#include <fmt/format.h>
#include <cstring>
#include <memory>
#include <plumbline/capture/one_pass.hpp>
#include <plumbline/capture/volts.hpp>
#include <random>
#include <vector>

namespace plumbline::benchmarks {

namespace {

using capture::one_pass;

/// Four tables side by side, so that no increment waits for the one before: the fastest plain loop that is commonly written.
class four_way_histogram {
public:
    four_way_histogram() : tables_(4 * codes) {}
    [[gnu::noinline]] void add(const std::int32_t* x, std::size_t n) {
        std::uint32_t* a = tables_.data();
        std::uint32_t* b = a + codes;
        std::uint32_t* c = b + codes;
        std::uint32_t* d = c + codes;
        std::size_t i = 0;
        for (; i + 4 <= n; i += 4) {
            ++a[x[i]];
            ++b[x[i + 1]];
            ++c[x[i + 2]];
            ++d[x[i + 3]];
        }
        for (; i < n; ++i) ++a[x[i]];
    }
    [[nodiscard]] std::uint64_t at(std::size_t code) const {
        return std::uint64_t{tables_[code]} + tables_[codes + code] + tables_[2 * codes + code] + tables_[3 * codes + code];
    }

private:
    static constexpr std::size_t codes = 4096;
    std::vector<std::uint32_t> tables_;
};

using codes_32 = std::vector<std::int32_t>;

/// A steady voltage on three codes, or all codes of 12 bits alike. Invented.
codes_32 made(std::size_t n, bool full_range) {
    std::mt19937 bits(full_range ? 2 : 1);
    codes_32 x(n);
    for (std::int32_t& c : x) {
        const auto r = static_cast<std::int32_t>(bits() % 4096U);
        c = full_range ? r : 2000 + (r % 4 == 0 ? 1 : 0) - (r % 4 == 1 ? 1 : 0);
    }
    return x;
}

capture::one_pass_statistics summed_up(const codes_32& x, bool spectrum) {
    one_pass all(0, 4095, {}, spectrum);
    all.add(x);
    return all.statistics();
}

void add_statistics(suite& all) {
    for (const bool full_range : {false, true}) {
        for (const std::size_t n : {std::size_t{1'000'000}, std::size_t{10'000'000}}) {
            const std::string title =
                fmt::format("captures, {}, {} samples: ", full_range ? "full range of 12 bits" : "DC on 3 codes", n);
            const bool slow = n > 1'000'000;
            const auto x = std::make_shared<const codes_32>(made(n, full_range));
            all.add(
                title + "plumbline",
                [x] {
                    const auto st = summed_up(*x, false);
                    benchmark::DoNotOptimize(&st);
                },
                slow);
            all.add(
                title + "histogram",
                [x] {
                    four_way_histogram h;
                    h.add(x->data(), x->size());
                    benchmark::DoNotOptimize(&h);
                    benchmark::ClobberMemory();
                },
                slow);
            all.compare({title + "one-pass statistics against a four-way histogram",
                         title + "plumbline",
                         {title + "histogram"},
                         aim::at_most(3.0),
                         static_cast<double>(n)});
            if (n == 10'000'000) {
                all.add(
                    title + "with spectrum",
                    [x] {
                        const auto st = summed_up(*x, true);
                        benchmark::DoNotOptimize(&st);
                    },
                    true);
                all.compare({title + "with spectrum against a four-way histogram",
                             title + "with spectrum",
                             {title + "histogram"},
                             {},
                             static_cast<double>(n)});
            }
            all.check([x] {
                four_way_histogram h;
                h.add(x->data(), x->size());
                const auto st = summed_up(*x, false);
                for (std::size_t c = 0; c < st.counts.size(); ++c) {
                    if (st.counts[c] == h.at(c)) continue;
                    fmt::print(stderr, "our histogram differs at code {}\n", c);
                    return false;
                }
                return true;
            });
        }
    }
}

/// Memory for one size, written once so that no page is touched for the first time while it is timed.
struct buffers {
    std::vector<std::uint16_t> codes;
    std::vector<float> volts, U, from_volts, from_U;
    explicit buffers(std::size_t n) : codes(n), volts(n, 1.0F), U(n, 1.0F), from_volts(n, 2.0F), from_U(n, 2.0F) {
        for (std::size_t i = 0; i < n; ++i) codes[i] = static_cast<std::uint16_t>(i * 7 % 4096);
    }
};

void add_volts(suite& all) {
    capture::code_to_volts by;
    by.line = {volts_per_code::from_value(5.01e-3), -10.25 * volt};
    by.below = capture::code_line{volts_per_code::from_value(5.02e-3), -10.27046 * volt};
    by.knee = 2046.0 * code;
    by.u = {25e-6, 1e-6, 0.1 * volt};
    struct size {
        std::size_t n;
        double volts_alone, with_u;
    };
    for (const size& s : {size{1'000'000, 0.85, 0.55}, size{100'000'000, 1.1, 1.0}}) {
        const std::string title = fmt::format("volts, {} samples: ", s.n);
        const auto made_late = std::make_shared<std::unique_ptr<buffers>>();  // 2 GB: only where it is run
        const auto at = [made_late, n = s.n]() -> buffers& {
            if (!*made_late) *made_late = std::make_unique<buffers>(n);
            return **made_late;
        };
        const auto add = [&](const std::string& name, auto run) {
            all.add(
                title + name,
                [at, run] {
                    buffers& b = at();
                    run(b);
                    benchmark::DoNotOptimize(b.volts.data());
                    benchmark::DoNotOptimize(b.U.data());
                    benchmark::ClobberMemory();
                },
                s.n > 1'000'000);
        };
        add("volts", [by](buffers& b) { capture::to_volts(std::span<const std::uint16_t>(b.codes), by, b.volts); });
        add("volts and U", [by](buffers& b) { capture::to_volts(std::span<const std::uint16_t>(b.codes), by, b.volts, b.U); });
        add("memcpy of volts",
            [](buffers& b) { std::memcpy(b.volts.data(), b.from_volts.data(), b.volts.size() * sizeof(float)); });
        add("memcpy of volts and U", [](buffers& b) {
            std::memcpy(b.volts.data(), b.from_volts.data(), b.volts.size() * sizeof(float));
            std::memcpy(b.U.data(), b.from_U.data(), b.U.size() * sizeof(float));
        });
        const double items = static_cast<double>(s.n);
        all.compare({title + "codes to volts against memcpy",
                     title + "volts",
                     {title + "memcpy of volts"},
                     aim::at_least(s.volts_alone),
                     items});
        all.compare({title + "codes to volts with U against memcpy",
                     title + "volts and U",
                     {title + "memcpy of volts and U"},
                     aim::at_least(s.with_u),
                     items});
    }
}

}  // namespace

void add_captures(suite& all) {
    add_statistics(all);
    add_volts(all);
}

}  // namespace plumbline::benchmarks
