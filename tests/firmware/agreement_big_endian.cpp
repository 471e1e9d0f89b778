// The scenario of agreement.hpp on a Cortex-A15 whose data is big-endian: QEMU's machine virt, started by the ELF file's own
// flag.

#include "agreement.hpp"

extern "C" {

void* memcpy(void* to, const void* from, size_t size) {
    for (size_t i = 0; i < size; ++i) static_cast<char*>(to)[i] = static_cast<const char*>(from)[i];
    return to;
}

void* memset(void* to, int value, size_t size) {
    for (size_t i = 0; i < size; ++i) static_cast<char*>(to)[i] = static_cast<char>(value);
    return to;
}

uint32_t call_emulator(uint32_t operation, const void* argument);
[[noreturn]] void start();

}  // extern "C"

// Semihosting of an Arm core that is not a Cortex-M; a fault would loop at an empty vector, so the caller limits the time.
asm(R"(
    .section .start, "ax"
    .arm
    .global on_reset
on_reset:
    ldr sp, =0x40100000
    b start
    .text
    .arm
    .global call_emulator
call_emulator:
    svc 0x123456
    bx lr
)");

void start() {
    const uint32_t word = 0x01020304;
    const bool big_endian = *reinterpret_cast<const volatile uint8_t*>(&word) == 1;
    if (big_endian) agreement::run(AGREEMENT_COUNT, [](const char* line) { call_emulator(0x04, line); });
    // SYS_EXIT with the reason in the register: 0 if the application has ended, else 1
    call_emulator(0x18, reinterpret_cast<const void*>(big_endian ? 0x20026 : 0x20023));
    for (;;) {
    }
}
