// Example firmware: a pocket scope on a Cortex-M3 board (QEMU's mps2-an385) with a simulated converter. It reads with
// plus-or-minus from the image in its flash, and takes and stores an image over the serial line. Words:
// plumbline/embedded/words.h.

#include <plumbline/embedded/words.h>
#include <plumbline/embedded/block.hpp>
#include <plumbline/embedded/image.hpp>
#include <plumbline/embedded/store.hpp>

#include "semihosting.hpp"

#ifndef FIRMWARE_VERSION
#define FIRMWARE_VERSION "1"
#endif

namespace {

using namespace plumbline::embedded;

volatile uint32_t& device(uint32_t address) { return *reinterpret_cast<volatile uint32_t*>(address); }

// ---- the board
// ----------------------------------------------------------------------------------------------------------------------

/// The board's UART.
namespace line {

constexpr uint32_t data = 0x40004000;
constexpr uint32_t state = data + 4;  // bit 0: cannot send, bit 1: has received

void begin() {
    device(data + 0x10) = 16;              // divider of the clock; the emulator needs one and does not care which
    device(data + 8) = 3;                  // send and receive
    const uint32_t unread = device(data);  // the emulator looks for input only after a first read
    (void)unread;
}

char receive() {
    while ((device(state) & 2) == 0) {
    }
    return static_cast<char>(device(data));
}

void send(char c) {
    while ((device(state) & 1) != 0) {
    }
    device(data) = static_cast<uint8_t>(c);
}

void send(const char* text) {
    while (*text != 0) send(*text++);
}

template <size_t size>
void send_text(const char (&text)[size]) {
    for (const char c : text) {
        if (c == 0) return;
        send(c);
    }
}

void send_number(int64_t value) {
    if (value < 0) send('-');
    uint32_t rest = static_cast<uint32_t>(value < 0 ? -value : value);
    char digits[10];
    uint8_t count = 0;
    do {
        digits[count++] = static_cast<char>('0' + rest % 10);
        rest /= 10;
    } while (rest != 0);
    while (count > 0) send(digits[--count]);
}

void send_block_header(uint32_t size) {
    char front[11];
    const size_t length = put_block_header(front, size);
    for (size_t i = 0; i < length; ++i) send(front[i]);
}

}  // namespace line

/// Memory that outlives the emulator: a file. What a bench would set stands in it too, and whether a store is under way.
namespace bench {

constexpr uint32_t memory = 0x21000000;
uint16_t code(uint8_t channel) { return static_cast<uint16_t>(device(memory + 0x10000 + 4 * channel)); }
int16_t temperature() { return static_cast<int16_t>(device(memory + 0x10010)); }
void say_storing(bool is) { device(memory + 0x10020) = is ? 1 : 0; }

}  // namespace bench

/// Flash in that memory: clears bits only, erases pages, and takes its time, byte by byte, so that it can be interrupted
/// anywhere.
struct board_flash {
    void read(uint32_t address, uint8_t* to, size_t size) {
        for (size_t i = 0; i < size; ++i) to[i] = cell(address + i);
    }
    bool program(uint32_t address, const uint8_t* from, size_t size) {
        for (size_t i = 0; i < size; ++i) {
            wait();
            cell(address + i) = static_cast<uint8_t>(cell(address + i) & from[i]);
        }
        return true;
    }
    bool erase(uint32_t address) {
        for (uint32_t i = 0; i < 256; ++i) {
            wait();
            cell(address + i) = 0xFF;
        }
        return true;
    }

private:
    static volatile uint8_t& cell(uint32_t address) { return *reinterpret_cast<volatile uint8_t*>(bench::memory + address); }
    static void wait() {
        for (uint32_t i = 0; i < 6000; ++i) asm volatile("nop");
    }
};

// ---- the instrument
// -----------------------------------------------------------------------------------------------------------------

constexpr uint16_t mode = 3;  // how this firmware samples
constexpr uint16_t samples_of_a_reading = 64;

board_flash flash;
uint8_t image[384];       // what the readings use
uint8_t received[384];    // what comes over the line
size_t image_size_found;  // 0: not calibrated

struct event_status {
    uint8_t events = PLUMBLINE_EVENT_POWER_ON;
    uint8_t event_enable = 0;
    uint8_t service_enable = 0;
    uint8_t fault = 0;

    void add(uint8_t event) { events = static_cast<uint8_t>(events | event); }
    uint8_t status_byte() const {
        const uint8_t summary = (events & event_enable) != 0 ? PLUMBLINE_STATUS_EVENT : 0;
        return static_cast<uint8_t>(summary | ((summary & service_enable) != 0 ? PLUMBLINE_STATUS_SERVICE : 0));
    }
} state;

store<board_flash> slots() { return store<board_flash>(flash, {{0, 512}, 512, 256, 4}); }

void load_image() {
    image_size_found = slots().load(image, sizeof image);
    if (check(image, image_size_found) != image_fault::none) image_size_found = 0;
}

/// The simulated converter: the code that the bench applies, with one code of noise.
uint16_t sample(uint8_t channel, uint16_t number) {
    const uint16_t code = bench::code(channel);
    if (number % 4 == 1 && code < 4095) return static_cast<uint16_t>(code + 1);
    if (number % 4 == 3 && code > 0) return static_cast<uint16_t>(code - 1);
    return code;
}

reading read_voltage(uint8_t channel, uint8_t number) {
    uint8_t index = 0;
    if (image_size_found == 0) return without_value(status::not_calibrated);
    const status found = find(image, channel, number, mode, index);
    if (found != status::ok) return without_value(found);
    const range by = read_range(image, index);
    samples all;
    for (uint16_t i = 0; i < samples_of_a_reading; ++i) all.add(by.line, sample(channel, i));
    return read(by, read_validity(image), {mode, bench::temperature(), unknown_day}, all);
}

void answer_reading(const reading& r) {
    line::send_number(r.microvolts);
    line::send(',');
    line::send_number(r.plus_or_minus);
    line::send(',');
    line::send_number(static_cast<uint8_t>(r.what));
    line::send('\n');
}

// ---- the serial line
// ----------------------------------------------------------------------------------------------------------------

/// A message: its word, and what follows up to the end of the line.
class message {
public:
    bool is(const char* word) const {
        size_t i = 0;
        while (word[i] != 0 && i < size_ && text_[i] == word[i]) ++i;
        return word[i] == 0 && (i == size_ || text_[i] == ' ');
    }
    void add(char c) {
        if (size_ < sizeof text_) text_[size_++] = c;
    }
    bool is_empty() const { return size_ == 0; }
    /// The number'th number behind the word, up to 9999; -1 if there is none.
    int32_t number(uint8_t which) const {
        size_t i = 0;
        while (i < size_ && text_[i] != ' ') ++i;
        for (++i; which > 0; --which) {
            while (i < size_ && text_[i] != ',') ++i;
            ++i;
        }
        int32_t value = -1;
        for (; i < size_ && text_[i] >= '0' && text_[i] <= '9' && value < 1000; ++i)
            value = (value < 0 ? 0 : value) * 10 + text_[i] - '0';
        return i >= size_ || text_[i] == ',' ? value : -1;
    }

private:
    char text_[40];
    size_t size_ = 0;
};

/// Takes a block. @return  whether it was one of a size that fits; else its bytes have been dropped
bool receive_block(size_t& size) {
    block_header header((UINT32_C(1) << 28) - 1);
    block_header::state front = block_header::state::incomplete;
    while (front == block_header::state::incomplete) front = header.take(line::receive());
    if (front == block_header::state::refused) return false;
    for (uint32_t i = 0; i < header.size(); ++i) {
        const char c = line::receive();
        if (i < sizeof received) received[i] = static_cast<uint8_t>(c);
    }
    size = header.size();
    return size <= sizeof received;
}

void store_adjustment() {
    size_t size = 0;
    if (!receive_block(size)) {
        state.add(PLUMBLINE_EVENT_COMMAND_ERROR);
        return;
    }
    state.fault = static_cast<uint8_t>(check(received, size));
    if (state.fault == 0) {
        bench::say_storing(true);
        const save_result result = slots().save(received, size);
        bench::say_storing(false);
        if (result != save_result::saved) state.fault = static_cast<uint8_t>(100 + static_cast<uint8_t>(result));
        load_image();
    }
    if (state.fault != 0) state.add(PLUMBLINE_EVENT_EXECUTION_ERROR);
}

void answer_identity() {
    line::send("home-built,");
    if (image_size_found == 0) {
        line::send("0,0");
    } else {
        const identity of = read_identity(image);
        line::send_text(of.model);
        line::send(',');
        line::send_text(of.serial);
    }
    line::send("," FIRMWARE_VERSION "\n");
}

void answer_codes(const message& from) {
    const int32_t channel = from.number(0);
    const int32_t count = from.number(2);
    if (channel < 0 || channel > 1 || from.number(1) < 0 || count < 1) {
        state.add(PLUMBLINE_EVENT_EXECUTION_ERROR);
        line::send_block_header(0);
    } else {
        line::send_block_header(2 * static_cast<uint32_t>(count));
        for (int32_t i = 0; i < count; ++i) {
            const uint16_t code = sample(static_cast<uint8_t>(channel), static_cast<uint16_t>(i));
            line::send(static_cast<char>(code & 0xFF));
            line::send(static_cast<char>(code >> 8));
        }
    }
    line::send('\n');
}

void answer(const message& to) {
    const auto answer_number = [](int64_t value) {
        line::send_number(value);
        line::send('\n');
    };
    const auto set = [&to](uint8_t& enable) {
        const int32_t value = to.number(0);
        if (value >= 0 && value <= 255)
            enable = static_cast<uint8_t>(value);
        else
            state.add(PLUMBLINE_EVENT_EXECUTION_ERROR);
    };
    if (to.is(PLUMBLINE_WORD_IDENTIFY_QUERY)) {
        answer_identity();
    } else if (to.is(PLUMBLINE_WORD_READ_QUERY)) {
        const int32_t channel = to.number(0);
        const int32_t number = to.number(1);
        const bool exists = channel >= 0 && channel <= 255 && number >= 0 && number <= 255;
        if (!exists) state.add(PLUMBLINE_EVENT_EXECUTION_ERROR);
        answer_reading(exists ? read_voltage(static_cast<uint8_t>(channel), static_cast<uint8_t>(number))
                              : without_value(status::not_calibrated));
    } else if (to.is(PLUMBLINE_WORD_ADJUSTMENT_QUERY)) {
        line::send_block_header(static_cast<uint32_t>(image_size_found));
        for (size_t i = 0; i < image_size_found; ++i) line::send(static_cast<char>(image[i]));
        line::send('\n');
    } else if (to.is(PLUMBLINE_WORD_CODES_QUERY)) {
        answer_codes(to);
    } else if (to.is(PLUMBLINE_WORD_WEAR_QUERY)) {
        answer_number(slots().erases());
    } else if (to.is(PLUMBLINE_WORD_FAULT_QUERY)) {
        answer_number(state.fault);
    } else if (to.is(PLUMBLINE_WORD_EVENT_QUERY)) {
        answer_number(state.events);
        state.events = 0;
    } else if (to.is(PLUMBLINE_WORD_EVENT_ENABLE_QUERY)) {
        answer_number(state.event_enable);
    } else if (to.is(PLUMBLINE_WORD_SERVICE_ENABLE_QUERY)) {
        answer_number(state.service_enable);
    } else if (to.is(PLUMBLINE_WORD_STATUS_QUERY)) {
        answer_number(state.status_byte());
    } else if (to.is(PLUMBLINE_WORD_OPERATION_COMPLETE_QUERY)) {
        answer_number(1);
    } else if (to.is(PLUMBLINE_WORD_SELF_TEST_QUERY)) {
        answer_number(image_size_found != 0 && check(image, image_size_found) != image_fault::none ? 1 : 0);
    } else if (to.is(PLUMBLINE_WORD_EVENT_ENABLE)) {
        set(state.event_enable);
    } else if (to.is(PLUMBLINE_WORD_SERVICE_ENABLE)) {
        set(state.service_enable);
    } else if (to.is(PLUMBLINE_WORD_CLEAR_STATUS)) {
        state.events = 0;
    } else if (to.is(PLUMBLINE_WORD_OPERATION_COMPLETE)) {
        state.add(PLUMBLINE_EVENT_OPERATION_COMPLETE);
    } else if (to.is(PLUMBLINE_WORD_RESET)) {
        load_image();
    } else if (!to.is(PLUMBLINE_WORD_WAIT) &&
               !to.is(PLUMBLINE_WORD_ADJUSTMENT)) {  // every message is done before the next is read
        state.add(PLUMBLINE_EVENT_COMMAND_ERROR);
    }
}

}  // namespace

int main() {
    line::begin();
    load_image();
    message current;
    for (;;) {
        const char c = line::receive();
        if (c == '\n') {
            if (!current.is_empty()) answer(current);
            current = message();
        } else if (c == ' ' && current.is(PLUMBLINE_WORD_ADJUSTMENT)) {
            store_adjustment();
        } else if (c != '\r') {
            current.add(c);
        }
    }
}
