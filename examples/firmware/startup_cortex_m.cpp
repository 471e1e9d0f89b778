// Start of a program on a Cortex-M: vectors, memory, and the functions that the compiler itself calls.

#include <stddef.h>
#include <stdint.h>

#include "semihosting.hpp"

int main();

extern "C" {

extern uint32_t stack_top[], data_begin[], data_end[], data_in_flash[], bss_begin[], bss_end[];

void* memcpy(void* to, const void* from, size_t size) {
    char* t = static_cast<char*>(to);
    const char* f = static_cast<const char*>(from);
    while (size-- > 0) *t++ = *f++;
    return to;
}

void* memset(void* to, int value, size_t size) {
    char* t = static_cast<char*>(to);
    while (size-- > 0) *t++ = static_cast<char>(value);
    return to;
}

void* memmove(void* to, const void* from, size_t size) {
    char* t = static_cast<char*>(to);
    const char* f = static_cast<const char*>(from);
    if (t <= f) return memcpy(to, from, size);
    while (size-- > 0) t[size] = f[size];
    return to;
}

int memcmp(const void* a, const void* b, size_t size) {
    const unsigned char* x = static_cast<const unsigned char*>(a);
    const unsigned char* y = static_cast<const unsigned char*>(b);
    for (; size > 0; --size, ++x, ++y)
        if (*x != *y) return *x - *y;
    return 0;
}

// clang's names of the same, by Arm's run-time ABI (from memory)
void __aeabi_memclr(void* to, size_t size) { memset(to, 0, size); }
void __aeabi_memclr4(void* to, size_t size) { memset(to, 0, size); }
void __aeabi_memcpy(void* to, const void* from, size_t size) { memcpy(to, from, size); }
void __aeabi_memcpy4(void* to, const void* from, size_t size) { memcpy(to, from, size); }

[[noreturn]] void on_fault() { semihosting::exit(99); }

[[noreturn]] void on_reset() {
    const uint32_t* from = data_in_flash;
    for (uint32_t* to = data_begin; to != data_end; ++to) *to = *from++;
    for (uint32_t* to = bss_begin; to != bss_end; ++to) *to = 0;
#ifndef __ARM_FEATURE_UNALIGNED
    // Compiled for a core that faults on words that are not aligned; the emulated one does so if told to.
    *reinterpret_cast<volatile uint32_t*>(0xE000ED14) |= 8;
#endif
    semihosting::exit(static_cast<uint32_t>(main()));
}

}  // extern "C"

using vector = void (*)();
extern const vector vectors[16];
__attribute__((section(".vectors"), used)) const vector vectors[16] = {reinterpret_cast<vector>(stack_top),
                                                                       on_reset,
                                                                       on_fault,
                                                                       on_fault,
                                                                       on_fault,
                                                                       on_fault,
                                                                       on_fault,
                                                                       on_fault,
                                                                       on_fault,
                                                                       on_fault,
                                                                       on_fault,
                                                                       on_fault,
                                                                       on_fault,
                                                                       on_fault,
                                                                       on_fault,
                                                                       on_fault};
