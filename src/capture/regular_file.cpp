#include "regular_file.hpp"

#include <plumbline/error.hpp>

#include <system_error>

namespace plumbline::inline v0::capture {

namespace {
[[noreturn]] void refuse_unreadable(const std::filesystem::path& file) {
    throw bad_input(file.string(), "found a file that cannot be read", "a readable file", "check its permissions and its disk");
}
}  // namespace

std::ifstream open_regular_file(const std::filesystem::path& file) {
    namespace fs = std::filesystem;
    std::error_code failed;
    const fs::file_status status = fs::status(file, failed);
    if (status.type() == fs::file_type::not_found) {
        throw bad_input(file.string(), "found no such file", "a file", "check the name and the folder");
    }
    if (failed) {
        refuse_unreadable(file);
    }
    if (status.type() == fs::file_type::directory) {
        throw bad_input(file.string(), "found a directory", "a file", "name a file inside it");
    }
    if (status.type() != fs::file_type::regular) {
        throw bad_input(file.string(), "found a pipe or a device", "a regular file", "save its data to a file first");
    }
    std::ifstream in(file, std::ios::binary);
    if (!in) {
        refuse_unreadable(file);
    }
    return in;
}

std::uintmax_t size_to_keep(const std::filesystem::path& file) {
    constexpr std::uintmax_t largest = std::uintmax_t{256} << 20U;
    const std::uintmax_t size = std::filesystem::file_size(file);
    if (size > largest) {
        throw bad_input(file.string(), "found " + std::to_string(size) + " bytes", "at most 268435456 (256 MiB)",
                        "take a shorter capture or split it");
    }
    return size;
}

std::size_t read_piece(std::ifstream& in, char* data, std::size_t size, const std::filesystem::path& file) {
    in.read(data, static_cast<std::streamsize>(size));
    if (in.bad()) {
        refuse_unreadable(file);
    }
    return static_cast<std::size_t>(in.gcount());
}

}  // namespace plumbline::inline v0::capture
