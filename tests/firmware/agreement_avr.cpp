// The scenario of agreement.hpp on an 8-bit AVR: int has 16 bits there, and the compiler is GCC 5.

#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/sleep.h>

#include "agreement.hpp"

int main() {
    UCSR0B = 1 << TXEN0;
    agreement::run(AGREEMENT_COUNT, [](const char* line) {
        for (; *line != 0; ++line) {
            while ((UCSR0A & (1 << UDRE0)) == 0) {
            }
            UDR0 = static_cast<uint8_t>(*line);
        }
    });
    while ((UCSR0A & (1 << TXC0)) == 0) {
    }
    cli();
    sleep_mode();  // ends the emulator
}
