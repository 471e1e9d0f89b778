// The scenario of agreement.hpp on a Cortex-M.

#include "agreement.hpp"
#include "semihosting.hpp"

int main() {
    agreement::run(AGREEMENT_COUNT, [](const char* line) { semihosting::print(line); });
    return 0;
}
