// One program per PART: what the part adds to the program with PART 0 is what it takes of the flash, helpers of the compiler
// included.

#include <plumbline/embedded/image.hpp>
#include <plumbline/embedded/store.hpp>

using namespace plumbline::embedded;

namespace {

/// Flash that is read where it is, with a step of its own for programming and for erasing, as small as a driver can be.
struct mapped_flash {
    void read(uint32_t address, uint8_t* to, size_t size) {
        const uint8_t* from = reinterpret_cast<const uint8_t*>(address);
        while (size-- > 0) *to++ = *from++;
    }
    bool program(uint32_t address, const uint8_t* from, size_t) {
        *reinterpret_cast<volatile uint32_t*>(address) = byte_reader(from).u32();
        return true;
    }
    bool erase(uint32_t address) {
        *reinterpret_cast<volatile uint32_t*>(0x40022000) = address;
        return true;
    }
};

// Addresses that the compiler cannot know.
template <class T>
T& somewhere() {
    return **reinterpret_cast<T* volatile*>(0x20000000);
}

__attribute__((noinline)) void use(uint32_t value) { *reinterpret_cast<volatile uint32_t*>(0x20000004) = value; }

#if PART == 1 || PART == 8
__attribute__((noinline)) void correct_block() {
    use(correct(somewhere<correction>(), &somewhere<uint16_t>(), somewhere<uint32_t>(), &somewhere<int32_t>()));
}
#endif
#if PART == 2
__attribute__((noinline)) void mean() {
    use(static_cast<uint32_t>(correct_mean(somewhere<correction>(), somewhere<uint32_t>(), somewhere<uint16_t>())));
}
#endif
#if PART == 3 || PART == 8
__attribute__((noinline)) void uncertainty() {
    use(plus_or_minus(somewhere<uncertainty_form>(), somewhere<int32_t>(), somewhere<uint16_t>(), somewhere<uint16_t>(),
                      somewhere<uint16_t>()));
}
#endif
#if PART == 4 || PART == 9
__attribute__((noinline)) void whole_reading() {
    const reading r =
        plumbline::embedded::read(somewhere<range>(), somewhere<validity>(), somewhere<conditions>(), somewhere<samples>());
    use(static_cast<uint32_t>(r.microvolts) + r.plus_or_minus + static_cast<uint32_t>(r.what));
}
#endif
#if PART == 5 || PART == 9
__attribute__((noinline)) void image() {
    const uint8_t* bytes = &somewhere<uint8_t>();
    uint8_t index = 0;
    if (check(bytes, somewhere<uint32_t>()) != image_fault::none || find(bytes, somewhere<uint8_t>(), 0, 3, index) != status::ok)
        return;
    somewhere<range>() = read_range(bytes, index);
    somewhere<validity>() = read_validity(bytes);
}
#endif
#if PART == 6
__attribute__((noinline)) void crc() { use(crc32(&somewhere<uint8_t>(), somewhere<uint32_t>())); }
#endif
#if PART == 7 || PART == 8 || PART == 9
__attribute__((noinline)) void storing() {
    mapped_flash flash;
    store<mapped_flash> slots(flash, {{0x8000, 0x8400}, 0x400, 0x400, 4});
    use(slots.newest().address);
    use(static_cast<uint32_t>(slots.save(&somewhere<uint8_t>(), somewhere<uint32_t>())));
}
#endif

}  // namespace

int main() {
    use(somewhere<uint32_t>());
#if PART == 1 || PART == 8
    correct_block();
#endif
#if PART == 2
    mean();
#endif
#if PART == 3 || PART == 8
    uncertainty();
#endif
#if PART == 4 || PART == 9
    whole_reading();
#endif
#if PART == 5 || PART == 9
    image();
#endif
#if PART == 6
    crc();
#endif
#if PART == 7 || PART == 8 || PART == 9
    storing();
#endif
    return 0;
}
