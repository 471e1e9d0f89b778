#pragma once
// What a program on the emulated controller asks of the emulator (Arm's semihosting interface for M-profile).

#include <stdint.h>

namespace semihosting {

inline uint32_t call(uint32_t operation, const void* argument) {
    register uint32_t r0 asm("r0") = operation;
    register const void* r1 asm("r1") = argument;
    asm volatile("bkpt 0xAB" : "+r"(r0) : "r"(r1) : "memory");
    return r0;
}

inline void print(const char* text) { call(0x04, text); }  // SYS_WRITE0

[[noreturn]] inline void exit(uint32_t code) {
    const uint32_t block[2] = {0x20026, code};  // ADP_Stopped_ApplicationExit
    call(0x20, block);                          // SYS_EXIT_EXTENDED
    for (;;) {
    }
}

}  // namespace semihosting
