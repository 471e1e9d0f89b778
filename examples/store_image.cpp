// store_image RECORD.json: the image that the instrument keeps, as files to store. --compare: what was read back, against records.

#include <plumbline/error.hpp>
#include <plumbline/image/comparison.hpp>
#include <plumbline/image/formats.hpp>
#include <plumbline/image/image.hpp>
#include <plumbline/image/stored.hpp>
#include <plumbline/record/json.hpp>
#include <plumbline/record/store.hpp>

#include <fmt/core.h>
#include <CLI/CLI.hpp>

#include <cstdint>
#include <exception>
#include <fstream>
#include <iterator>
#include <string>
#include <vector>

namespace {

namespace pl = plumbline;

enum exit_code { done = 0, differs = 1, bad_input_or_output = 2 };

constexpr const char* details =
    "Examples, with the record that comes with Plumbline, which states its conditions of use:\n"
    "  store_image cal_records/PS2-0007-2025-03.json --out image\n"
    "  store_image cal_records/PS2-0007-2025-03.json --compare image/PS2-0007-2025-03.bin\n"
    "  store_image cal_records/PS2-0007-2025-03.json --out flash --address 0x0801F000 --slot-size 2048\n"
    "Exit codes:\n"
    "  0  written; or the instrument holds the adjustment of the newest record\n"
    "  1  it does not\n"
    "  2  bad input, bad usage, or the files could not be written: nothing written";

struct arguments {
    std::vector<std::string> records;
    std::string folder = ".";
    std::uint32_t address = 0;
    std::uint32_t slot_size = 0;  // 0: the Intel HEX holds the image alone
    std::string use_of;
    std::string read_back;
    std::string date;
};

pl::image::settings settings_of(const pl::record::record& record, const std::string& use_of) {
    if (use_of.empty()) return {};
    for (const auto& range : record.ranges) {
        if (range.channel + " " + range.range == use_of && range.in_use) return {{}, range.in_use};
    }
    throw pl::bad_input("--use-of", "found \"" + use_of + "\"", "a range of the record that states its conditions of use",
                        "give channel and range, like \"A 10 V\"");
}

exit_code store(const pl::record::record& record, const arguments& given) {
    const pl::image::made_image made = pl::image::make_image(record, settings_of(record, given.use_of));
    const pl::image::bytes bytes = pl::image::encode(made.what);
    const std::string& name = record.number;
    const pl::image::bytes flash = given.slot_size == 0 ? bytes : pl::image::stored(bytes, {given.slot_size});
    static_cast<void>(pl::record::write_new(given.folder, {{name + ".bin", pl::image::raw(bytes)},
                                                           {name + ".h", pl::image::c_header(bytes)},
                                                           {name + ".hex", pl::image::intel_hex(flash, given.address)}}));
    fmt::print("{} bytes: {}/{}.bin, .h, .hex\n", bytes.size(), given.folder, name);
    for (const auto& s : made.statements) {
        fmt::print("{}: plus-or-minus at most {:.0f} % above that of the record; fixed-point error up to {:.2f} uV\n", s.name,
                   100.0 * s.largest_excess, s.fixed_point_error.value() * 1e6);
        if (s.one_line_error.value() > 0.0)
            fmt::print("  one line for the record's two: up to {:.3f} mV off, in the plus-or-minus\n",
                       s.one_line_error.value() * 1e3);
    }
    return done;
}

exit_code compare(const std::vector<pl::record::record>& records, const arguments& given) {
    std::ifstream in(given.read_back, std::ios::binary);
    const std::string contents(std::istreambuf_iterator<char>(in), {});
    if (!in) throw pl::bad_input(given.read_back, "found that it cannot be read", "what was read back", "check the name");
    const pl::image::bytes read = pl::image::from_file(contents, given.read_back);
    const pl::image::bytes read_back = given.slot_size == 0 ? read : pl::image::newest(read, {given.slot_size}, given.read_back);
    const pl::image::settings by = settings_of(records.front(), given.use_of);
    const pl::image::comparison found = pl::image::compare(read_back, records, by);
    fmt::print("{}\n", found.sentence);
    if (!given.date.empty()) {
        const auto checked = pl::image::with_check(records.front(), read_back, given.date, by);
        static_cast<void>(pl::record::append_checks(given.records.front(), checked));
    }
    return found.what == pl::image::verdict::same ? done : differs;
}

}  // namespace

int main(int argc, char** argv) {
    CLI::App app("Makes the image of a record that its instrument keeps, or compares what was read back with records.",
                 "store_image");
    app.footer(details);
    arguments given;
    app.add_option("RECORD.json", given.records, "record; for --compare one or more, that of the check first")->required();
    app.add_option("--out", given.folder, "folder for the files NUMBER.bin, .h and .hex")->capture_default_str();
    auto* slot_size =
        app.add_option(
               "--slot-size", given.slot_size,
               "of the firmware's two slots, which lie one behind the other: the Intel HEX file then holds both, as firmware "
               "finds them; for --compare, both were read back")
            ->check(CLI::PositiveNumber);
    app.add_option("--address", given.address, "of the first slot in the flash, 0x0801F000 for instance")->needs(slot_size);
    app.add_option("--use-of", given.use_of, "range whose conditions of use count for ranges that state none");
    auto* read_back = app.add_option("--compare", given.read_back, "file that was read back, raw or Intel HEX");
    app.add_option("--append", given.date, "append the comparison to the first record, with this date: YYYY-MM-DD")
        ->needs(read_back);
    try {
        app.parse(argc, argv);
    } catch (const CLI::ParseError& wrong) {
        return app.exit(wrong) == 0 ? done : bad_input_or_output;
    }
    try {
        std::vector<pl::record::record> records;
        for (const std::string& file : given.records) records.push_back(pl::record::read_record(file));
        if (!given.read_back.empty()) return compare(records, given);
        if (records.size() > 1) throw pl::bad_input("store_image", "found several records", "one", "give them with --compare");
        return store(records.front(), given);
    } catch (const std::exception& failure) {
        fmt::print(stderr, "store_image: {}\n", failure.what());
        return bad_input_or_output;
    }
}
