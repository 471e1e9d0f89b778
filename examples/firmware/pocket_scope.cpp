// Firmware of a pocket scope on a Cortex-M3 board, QEMU's mps2-an385, with a simulated converter. It reads with plus-or-minus from
// the image in its flash, and takes and stores an image over the serial line. Words: plumbline/embedded/words.h. run-demo, beside
// this file, builds it and talks to it.

#include <plumbline/embedded/words.h>
#include <plumbline/embedded/block.hpp>
#include <plumbline/embedded/image.hpp>
#include <plumbline/embedded/store.hpp>

#ifndef FIRMWARE_VERSION
#define FIRMWARE_VERSION "1"
#endif

namespace {

using namespace plumbline::embedded;

volatile uint32_t& device(uint32_t address) { return *reinterpret_cast<volatile uint32_t*>(address); }

// ---- the board ----

/// The timer of the core, at 25 MHz.
namespace clock {

constexpr uint32_t control = 0xE000E010;

void begin() {
    device(control + 4) = 2500000 - 1;
    device(control + 8) = 0;
    device(control) = 5;
}

/// Whether a tenth of a second has ended since this was asked last.
bool has_passed_a_tenth() { return (device(control) & 0x10000) != 0; }

}  // namespace clock

/// The board's UART.
namespace line {

constexpr uint32_t data = 0x40004000;
constexpr uint32_t state = data + 4;  // bit 0: cannot send, bit 1: has received

char kept = 0;  // what came while the line was begun

void begin() {
    device(data + 0x10) = 16;  // divider of the clock; the emulator needs one and does not care which
    device(data + 8) = 3;      // send and receive
    // The emulator looks for input only after a first read, or has just done so, and then this is a character.
    kept = static_cast<char>(device(data));
}

bool has_received() { return kept != 0 || (device(state) & 2) != 0; }

char take() {
    const char c = kept != 0 ? kept : static_cast<char>(device(data));
    kept = 0;
    return c;
}

char receive() {
    while (!has_received()) {
    }
    return take();
}

/// The next character of what has been begun. @return  false: none has come for three seconds
bool receive_soon(char& c) {
    for (uint8_t tenths = 0; !has_received();)
        if (clock::has_passed_a_tenth() && ++tenths == 30) return false;
    c = take();
    return true;
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

/// Memory that outlives the emulator: a file. Besides the flash it holds what is applied and how warm it is, who the instrument is,
/// and whether a store is under way.
namespace bench {

constexpr uint32_t memory = 0x21000000;
char model[16];
char serial[16];

/// Model and serial number, which a board gets once, where it is made.
void read_plate() {
    for (uint32_t i = 0; i < 16; ++i) {
        model[i] = static_cast<char>(*reinterpret_cast<volatile uint8_t*>(memory + 0x10030 + i));
        serial[i] = static_cast<char>(*reinterpret_cast<volatile uint8_t*>(memory + 0x10040 + i));
    }
}

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

// ---- the instrument ----

constexpr uint16_t mode = 0;              // how this firmware samples: the first mode of the record
constexpr uint8_t image_of_another = 50;  // what FAULT? answers
constexpr uint16_t samples_of_a_reading = 64;
constexpr uint8_t channels = 2;

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
    if (check(image, image_size_found) != image_fault::none || !is_of(image, bench::model, bench::serial)) image_size_found = 0;
}

/// Whether what is stored is what is used, unchanged. An instrument without an image is sound.
bool is_sound() {
    return slots().newest().size == image_size_found &&
           (image_size_found == 0 || check(image, image_size_found) == image_fault::none);
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

// ---- the serial line ----

/// A message: its word, and what follows up to the end of the line.
class message {
public:
    /// Whether it is this word and nothing else.
    bool is(const char* word) const { return begins_with(word) == size_ && !is_too_long_; }
    /// Whether it is this word and, after a space, that many numbers up to 9999, no more and no less.
    template <uint8_t count>
    bool is(const char* word, int32_t (&numbers)[count]) const {
        size_t i = begins_with(word);
        if (i == 0 || is_too_long_) return false;
        for (uint8_t which = 0; which < count; ++which) {
            if (i == size_ || text_[i] != (which == 0 ? ' ' : ',')) return false;
            const size_t first = ++i;
            for (numbers[which] = 0; i < size_ && i < first + 4 && text_[i] >= '0' && text_[i] <= '9'; ++i)
                numbers[which] = numbers[which] * 10 + text_[i] - '0';
            if (i == first) return false;
        }
        return i == size_;
    }
    void add(char c) {
        if (size_ < sizeof text_)
            text_[size_++] = c;
        else
            is_too_long_ = true;
    }
    bool is_empty() const { return size_ == 0; }

private:
    /// How many characters the word has; 0 if the message begins otherwise.
    size_t begins_with(const char* word) const {
        size_t i = 0;
        while (word[i] != 0 && i < size_ && text_[i] == word[i]) ++i;
        return word[i] == 0 ? i : 0;
    }

    char text_[40];
    size_t size_ = 0;
    bool is_too_long_ = false;
};

/// What follows ADJUSTMENT and a space, up to the end of the line. @return  whether that is one block of a size that fits
bool receive_block(size_t& size) {
    block_header header((UINT32_C(1) << 28) - 1);
    block_header::state front = block_header::state::incomplete;
    char c = ' ';
    while (c == ' ')
        if (!line::receive_soon(c)) return false;
    while (front == block_header::state::incomplete && c != '\n') {
        front = header.take(c);
        if (front != block_header::state::complete && !line::receive_soon(c)) return false;
    }
    const bool is_block = front == block_header::state::complete;
    size = is_block ? header.size() : 0;
    for (size_t i = 0; i < size; ++i) {
        if (!line::receive_soon(c)) return false;
        if (i < sizeof received) received[i] = static_cast<uint8_t>(c);
    }
    bool is_alone = true;
    if (is_block && !line::receive_soon(c)) return false;
    while (c != '\n') {
        if (c != '\r') is_alone = false;
        if (!line::receive_soon(c)) return false;
    }
    return is_block && is_alone && size <= sizeof received;
}

void store_adjustment() {
    size_t size = 0;
    if (!receive_block(size)) {
        state.add(PLUMBLINE_EVENT_COMMAND_ERROR);
        return;
    }
    state.fault = static_cast<uint8_t>(check(received, size));
    if (state.fault == 0 && !is_of(received, bench::model, bench::serial)) state.fault = image_of_another;
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
    line::send_text(bench::model);
    line::send(',');
    line::send_text(bench::serial);
    line::send("," FIRMWARE_VERSION "\n");
}

void answer_codes(uint8_t channel, uint16_t count) {
    line::send_block_header(2 * static_cast<uint32_t>(count));
    for (uint16_t i = 0; i < count; ++i) {
        const uint16_t code = sample(channel, i);
        line::send(static_cast<char>(code & 0xFF));
        line::send(static_cast<char>(code >> 8));
    }
    line::send('\n');
}

void answer(const message& to) {
    const auto answer_number = [](int64_t value) {
        line::send_number(value);
        line::send('\n');
    };
    int32_t one[1];
    int32_t two[2];
    int32_t three[3];
    const auto set = [&one](uint8_t& enable) {
        if (one[0] <= 255)
            enable = static_cast<uint8_t>(one[0]);
        else
            state.add(PLUMBLINE_EVENT_EXECUTION_ERROR);
    };
    if (to.is(PLUMBLINE_WORD_IDENTIFY_QUERY)) {
        answer_identity();
    } else if (to.is(PLUMBLINE_WORD_READ_QUERY, two)) {
        const bool exists = two[0] < channels && two[1] <= 255;
        if (!exists) state.add(PLUMBLINE_EVENT_EXECUTION_ERROR);
        answer_reading(exists ? read_voltage(static_cast<uint8_t>(two[0]), static_cast<uint8_t>(two[1]))
                              : without_value(status::not_calibrated));
    } else if (to.is(PLUMBLINE_WORD_ADJUSTMENT_QUERY)) {
        line::send_block_header(static_cast<uint32_t>(image_size_found));
        for (size_t i = 0; i < image_size_found; ++i) line::send(static_cast<char>(image[i]));
        line::send('\n');
    } else if (to.is(PLUMBLINE_WORD_CODES_QUERY, three)) {
        const bool exists = three[0] < channels && three[1] <= 255;
        if (!exists) state.add(PLUMBLINE_EVENT_EXECUTION_ERROR);
        answer_codes(static_cast<uint8_t>(three[0]), static_cast<uint16_t>(exists ? three[2] : 0));
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
        answer_number(is_sound() ? 0 : 1);
    } else if (to.is(PLUMBLINE_WORD_EVENT_ENABLE, one)) {
        set(state.event_enable);
    } else if (to.is(PLUMBLINE_WORD_SERVICE_ENABLE, one)) {
        set(state.service_enable);
    } else if (to.is(PLUMBLINE_WORD_CLEAR_STATUS)) {
        state.events = 0;
    } else if (to.is(PLUMBLINE_WORD_OPERATION_COMPLETE)) {
        state.add(PLUMBLINE_EVENT_OPERATION_COMPLETE);
    } else if (to.is(PLUMBLINE_WORD_RESET)) {
        load_image();
    } else if (!to.is(PLUMBLINE_WORD_WAIT)) {  // every message is done before the next is read
        state.add(PLUMBLINE_EVENT_COMMAND_ERROR);
    }
}

}  // namespace

int main() {
    clock::begin();
    line::begin();
    bench::read_plate();
    load_image();
    message current;
    for (;;) {
        const char c = line::receive();
        if (c == '\n') {
            if (!current.is_empty()) answer(current);
            current = message();
        } else if (c == ' ' && current.is(PLUMBLINE_WORD_ADJUSTMENT)) {
            store_adjustment();
            current = message();
        } else if (c != '\r') {
            current.add(c);
        }
    }
}
