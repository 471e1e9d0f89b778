#include <plumbline/image/formats.hpp>

#include <fmt/format.h>

#include <algorithm>
#include <optional>
#include <plumbline/error.hpp>
#include <span>
#include <vector>

namespace plumbline::inline v0::image {

namespace {

constexpr std::size_t bytes_per_line = 16;
constexpr std::uint64_t block = 0x10000;  // what the 16 bits of a record's own address reach

enum record_type : std::uint8_t {
    data = 0,
    end_of_file = 1,
    segment_address = 2,  // times 16
    segment_start = 3,
    linear_address = 4,  // times 65536
    linear_start = 5,
};

/// Two's complement of the sum: with it a record's bytes add up to 0.
std::uint8_t checksum(std::span<const std::uint8_t> record) {
    unsigned sum = 0;
    for (const std::uint8_t byte : record) sum += byte;
    return static_cast<std::uint8_t>(0x100U - (sum & 0xffU));
}

void put_record(std::string& out, std::uint64_t address, record_type type, std::span<const std::uint8_t> content) {
    bytes record{static_cast<std::uint8_t>(content.size()), static_cast<std::uint8_t>((address >> 8U) & 0xffU),
                 static_cast<std::uint8_t>(address & 0xffU), type};
    record.insert(record.end(), content.begin(), content.end());
    record.push_back(checksum(record));
    out += ':';
    for (const std::uint8_t byte : record) out += fmt::format("{:02X}", byte);
    out += '\n';
}

std::optional<std::uint8_t> digit(char c) {
    if (c >= '0' && c <= '9') return static_cast<std::uint8_t>(c - '0');
    if (c >= 'A' && c <= 'F') return static_cast<std::uint8_t>(c - 'A' + 10);
    if (c >= 'a' && c <= 'f') return static_cast<std::uint8_t>(c - 'a' + 10);
    return {};
}

class hex_reader {
public:
    explicit hex_reader(std::string file) : file_(std::move(file)) {}

    void take(std::string_view line) {
        ++line_;
        if (line.ends_with('\r')) line.remove_suffix(1);
        if (line.empty()) return;
        if (ended_) refuse("found a record behind the end record", "nothing there", "remove it, if two files were joined");
        const bytes record = bytes_of(line);
        if (record.size() < 5 || record.size() != record[0] + std::size_t{5})
            refuse(fmt::format("found a record of {} bytes", record.size()), "as many as its first byte says and 5", again);
        const std::uint8_t stated = record.back();
        const std::uint8_t sum = checksum(std::span(record).first(record.size() - 1));
        if (sum != stated) refuse(fmt::format("found the checksum {:02X}", stated), fmt::format("{:02X}", sum), again);
        use(record);
    }

    placed_bytes finish() {
        if (!ended_)
            refuse("found no end record", "\":00000001FF\" as the last line", "take another copy: the file is cut short");
        if (got_.what.empty()) refuse("found no bytes", "at least one data record", "take the file of an image");
        return std::move(got_);
    }

private:
    static constexpr const char* again = "take another copy of the file";

    [[noreturn]] void refuse(const std::string& found, const std::string& expected, const std::string& remedy) const {
        throw bad_input(fmt::format("{}:{}", file_, std::max(1, line_)), found, expected, remedy);
    }

    [[nodiscard]] bytes bytes_of(std::string_view line) const {
        if (line.front() != ':') refuse("found a line that does not begin with ':'", "a record of Intel HEX", again);
        line.remove_prefix(1);
        if (line.size() % 2 != 0) refuse("found half a byte", "two digits for each byte", again);
        bytes record;
        for (std::size_t i = 0; i < line.size(); i += 2) {
            const auto high = digit(line[i]);
            const auto low = digit(line[i + 1]);
            if (!high || !low)
                refuse(fmt::format("found no hexadecimal digit at column {}", i + (high ? 3 : 2)), "digits only", again);
            record.push_back(static_cast<std::uint8_t>(*high * 16 + *low));
        }
        return record;
    }

    void use(const bytes& record) {
        const auto content = std::span(record).subspan(4, record[0]);
        const std::uint64_t offset = static_cast<std::uint64_t>(record[1]) * 256 + record[2];
        switch (record[3]) {
            case data:
                if (offset + content.size() > block)
                    refuse("found a record across the end of 64 KiB", "one that ends within them",
                           "let another program write the file");
                place(base_ + offset, content);
                break;
            case end_of_file:
                ended_ = true;
                break;
            case segment_address:
            case linear_address:
                if (content.size() != 2) refuse(fmt::format("found an address of {} bytes", content.size()), "2", again);
                base_ = (static_cast<std::uint64_t>(content[0]) * 256 + content[1]) * (record[3] == linear_address ? block : 16);
                break;
            case segment_start:
            case linear_start:
                break;
            default:
                refuse(fmt::format("found record type {:02X}", record[3]), "00 to 05", again);
        }
    }

    void place(std::uint64_t address, std::span<const std::uint8_t> content) {
        if (content.empty()) return;
        if (got_.what.empty()) got_.address = static_cast<std::uint32_t>(address);
        const std::uint64_t expected = got_.address + got_.what.size();
        if (address != expected) {
            refuse(fmt::format("found bytes for 0x{:X}", address), fmt::format("0x{:X}, where those before end", expected),
                   "export the image alone, in the order of its addresses");
        }
        got_.what.insert(got_.what.end(), content.begin(), content.end());
    }

    std::string file_;
    int line_ = 0;
    std::uint64_t base_ = 0;
    bool ended_ = false;
    placed_bytes got_;
};

bool is_letter(char c) { return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || c == '_'; }

}  // namespace

std::string raw(const bytes& image) { return {image.begin(), image.end()}; }

std::string intel_hex(const bytes& image, std::uint32_t address) {
    if (address + static_cast<std::uint64_t>(image.size()) > block * block) {
        throw bad_input("Intel HEX", fmt::format("found {} bytes from 0x{:X}", image.size(), address), "an end within 32 bits",
                        "correct the address");
    }
    std::string out;
    std::uint64_t at = address;
    std::uint64_t base = 0;
    for (auto rest = std::span(image); !rest.empty();) {
        if (at / block != base) {
            base = at / block;
            const std::uint8_t upper[] = {static_cast<std::uint8_t>(base >> 8U), static_cast<std::uint8_t>(base & 0xffU)};
            put_record(out, 0, linear_address, upper);
        }
        const std::size_t n = std::min({bytes_per_line, rest.size(), static_cast<std::size_t>(block - at % block)});
        put_record(out, at % block, data, rest.first(n));
        rest = rest.subspan(n);
        at += n;
    }
    put_record(out, 0, end_of_file, {});
    return out;
}

placed_bytes from_intel_hex(std::string_view text, const std::string& file) {
    hex_reader reader(file);
    while (!text.empty()) {
        const std::size_t end = std::min(text.find('\n'), text.size());
        reader.take(text.substr(0, end));
        text.remove_prefix(std::min(end + 1, text.size()));
    }
    return reader.finish();
}

bytes from_file(std::string_view contents, const std::string& file) {
    if (contents.starts_with(':')) return from_intel_hex(contents, file).what;
    return {contents.begin(), contents.end()};
}

std::string c_header(const bytes& image, const std::string& name) {
    const bool good = !name.empty() && is_letter(name.front()) &&
                      std::all_of(name.begin(), name.end(), [](char c) { return is_letter(c) || (c >= '0' && c <= '9'); });
    if (!good) {
        throw bad_input("C header", "found the name \"" + name + "\"", "letters, digits and '_', no digit first",
                        "choose an identifier of C");
    }
    std::string guard = name + "_h";
    std::transform(guard.begin(), guard.end(), guard.begin(), [](char c) { return c >= 'a' && c <= 'z' ? c - 'a' + 'A' : c; });
    std::string out = fmt::format(
        "/* Image of an adjustment, made by Plumbline. Layout: embedded/IMAGE.md. */\n"
        "#ifndef {0}\n#define {0}\n\n#include <stdint.h>\n\nstatic const uint8_t {1}[{2}] = {{",
        guard, name, image.size());
    for (std::size_t i = 0; i < image.size(); ++i)
        out += fmt::format("{}0x{:02X}{}", i % bytes_per_line == 0 ? "\n    " : " ", image[i], i + 1 == image.size() ? "" : ",");
    return out + "};\n\n#endif\n";
}

}  // namespace plumbline::inline v0::image
