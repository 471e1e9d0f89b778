#pragma once
// A program run by a test.

#include <doctest/doctest.h>
#include <sys/wait.h>
#include <array>
#include <cstdio>
#include <string>

namespace program {

struct outcome {
    int code;
    std::string out;  ///< standard output, and standard error where the arguments end with "2>&1"
};

/// @param arguments  as a shell takes them
inline outcome run(const std::string& file, const std::string& arguments) {
    const std::string command = "\"" + file + "\" " + arguments;
    std::FILE* pipe = ::popen(command.c_str(), "r");
    REQUIRE(pipe != nullptr);
    std::string out;
    std::array<char, 4096> piece{};
    while (const std::size_t got = std::fread(piece.data(), 1, piece.size(), pipe)) out.append(piece.data(), got);
    const int status = ::pclose(pipe);
    REQUIRE(WIFEXITED(status));
    return {WEXITSTATUS(status), out};
}

}  // namespace program
