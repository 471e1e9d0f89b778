// The scenario of agreement.hpp on the host: agreement_host COUNT prints COUNT lines and "= done".

#include <cstdint>
#include <cstdio>
#include <cstdlib>

#include "agreement.hpp"

int main(int argc, char** argv) {
    if (argc != 2) return 2;
    agreement::run(static_cast<std::uint16_t>(std::atoi(argv[1])), [](const char* line) { std::fputs(line, stdout); });
}
