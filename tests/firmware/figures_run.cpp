// Counts instructions and stack on an emulated Cortex-M whose clock is its instructions (-icount shift=0: one per nanosecond).

#include "agreement.hpp"
#include "semihosting.hpp"

extern "C" uint32_t bss_end[];

namespace {

namespace emb = plumbline::embedded;

volatile uint32_t& timer(uint32_t offset) { return *reinterpret_cast<volatile uint32_t*>(0xE000E010 + offset); }
constexpr uint32_t instructions_per_tick = 40;  // 25 MHz

/// A number with a name, as the script reads it.
void print(const char* name, uint32_t value) {
    char line[64];
    char* end = line;
    while (*name != 0) *end++ = *name++;
    *end++ = ' ';
    uint32_t power = 1000000000;
    while (power > 1 && power > value) power /= 10;
    for (; power > 0; power /= 10) *end++ = static_cast<char>('0' + value / power % 10);
    end[0] = '\n';
    end[1] = 0;
    semihosting::print(line);
}

template <class Call>
__attribute__((noinline)) void invoke(const Call& call) {
    call();
}

/// Instructions of a call, to a tick.
template <class Call>
uint32_t instructions(const Call& call) {
    timer(4) = 0xFFFFFF;
    timer(8) = 0;
    timer(0) = 5;
    while (timer(8) == 0) {
    }
    const uint32_t before = timer(8);
    invoke(call);
    return ((before - timer(8)) & 0xFFFFFF) * instructions_per_tick;
}

/// Bytes of stack that a call takes, its return address included.
template <class Call>
__attribute__((noinline)) uint32_t stack(const Call& call) {
    uint32_t* here = nullptr;
    asm volatile("mov %0, sp" : "=r"(here));
    for (volatile uint32_t* at = bss_end; at < here; ++at) *at = 0x5AFE5AFE;
    invoke(call);
    const volatile uint32_t* lowest = bss_end;
    while (lowest < here && *lowest == 0x5AFE5AFE) ++lowest;
    return static_cast<uint32_t>(reinterpret_cast<uintptr_t>(here) - reinterpret_cast<uintptr_t>(lowest));
}

uint16_t codes[1024];
int32_t microvolts[1024];
uint8_t image[384];
uint8_t loaded[384];
agreement::flash_in_ram flash;
emb::range one;
volatile uint32_t sink;

constexpr uint32_t blocks = 16;

__attribute__((noinline)) size_t correct_block(const emb::correction& by) { return emb::correct(by, codes, 1024, microvolts); }

uint32_t per_block_of(uint16_t mask) {
    for (uint16_t i = 0; i < 1024; ++i) codes[i] = static_cast<uint16_t>((i * 64) & mask);
    return instructions([] {
        for (uint32_t i = 0; i < blocks; ++i) sink = correct_block(one.line);
    });
}

template <class Call>
void both(const char* name, Call call) {
    char line[32];
    char* end = line;
    while (*name != 0) *end++ = *name++;
    const char* unit = "_instructions";
    char* begin = end;
    while (*unit != 0) *end++ = *unit++;
    *end = 0;
    print(line, instructions(call));
    end = begin;
    unit = "_stack";
    while (*unit != 0) *end++ = *unit++;
    *end = 0;
    print(line, stack(call));
}

}  // namespace

int main() {
    agreement::random_bits bits(5);
    one = agreement::random_range(bits);
    one.line = emb::make_correction(INT64_C(5012) << 16, -(INT64_C(10264583) << 16), 1, 4094);
    const emb::identity of = agreement::any_identity();
    const size_t size = emb::encode(of, &one, image, sizeof image);
    const emb::samples mean(2248 * 100, 100, false);

    // in hundredths of an instruction
    print("sample_12_bit", per_block_of(0x0FFF) * 100 / (blocks * 1024));
    one.line.gain = 312;
    one.line.last_code = 0xFFFE;
    print("sample_16_bit", per_block_of(0xFFFF) * 100 / (blocks * 1024));
    one.line = emb::make_correction(INT64_C(5012) << 16, -(INT64_C(10264583) << 16), 1, 4094);

    both("block", [] { sink = correct_block(one.line); });
    both("reading", [&] {
        const emb::reading r = emb::read(one, of.holds, {3, 2500, 9300}, mean);
        sink = r.plus_or_minus;
    });
    both("check", [size] { sink = static_cast<uint32_t>(emb::check(image, size)); });
    both("save", [size] {
        emb::store<agreement::flash_in_ram> slots(flash, {{0, 256}, 256, 256, 8});
        sink = static_cast<uint32_t>(slots.save(image, size));
    });
    both("load", [] {
        emb::store<agreement::flash_in_ram> slots(flash, {{0, 256}, 256, 256, 8});
        sink = static_cast<uint32_t>(slots.load(loaded, sizeof loaded));
    });
    print("ram_of_a_range", sizeof(emb::range));
    print("ram_of_samples", sizeof(emb::samples));
    print("ram_of_a_store", sizeof(emb::store<agreement::flash_in_ram>));
    return emb::check(image, size) == emb::image_fault::none ? 0 : 1;
}
