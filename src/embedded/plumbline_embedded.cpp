// C functions over the C++ headers. C++14, and nothing but the folder plumbline/embedded.

#include "plumbline/embedded/plumbline_embedded.h"

#include "plumbline/embedded/image.hpp"
#include "plumbline/embedded/store.hpp"

namespace {

namespace emb = plumbline::embedded;

static_assert(PLUMBLINE_NO_SAMPLES == static_cast<int>(emb::status::no_samples), "both list the same status values");
static_assert(PLUMBLINE_BAD_CONTENT == static_cast<int>(emb::image_fault::bad_content), "both list the same faults");
static_assert(PLUMBLINE_FLASH_FAILED == static_cast<int>(emb::save_result::flash_failed), "both list the same results");
static_assert(PLUMBLINE_UNKNOWN_DAY == emb::unknown_day && PLUMBLINE_UNKNOWN_TEMPERATURE == emb::unknown_temperature, "the same");

struct flash_of_functions {
    const plumbline_flash& of;

    void read(uint32_t address, uint8_t* to, size_t size) const { of.read(of.context, address, to, size); }
    bool program(uint32_t address, const uint8_t* from, size_t size) const {
        return of.program(of.context, address, from, size) != 0;
    }
    bool erase(uint32_t address) const { return of.erase(of.context, address) != 0; }
};

emb::store_layout layout_of(const plumbline_flash& flash) {
    return {{flash.slots[0], flash.slots[1]}, flash.slot_size, flash.page_size, flash.granularity};
}

}  // namespace

uint8_t plumbline_check(const uint8_t* bytes, size_t size) { return static_cast<uint8_t>(emb::check(bytes, size)); }

int plumbline_is_of(const uint8_t* image, const char model[16], const char serial[16]) {
    char two[2][16];
    for (uint8_t i = 0; i < 16; ++i) {
        two[0][i] = model[i];
        two[1][i] = serial[i];
    }
    return emb::is_of(image, two[0], two[1]) ? 1 : 0;
}

uint8_t plumbline_find(const uint8_t* image, uint8_t channel, uint8_t range, uint16_t mode, uint8_t* index) {
    return static_cast<uint8_t>(emb::find(image, channel, range, mode, *index));
}

size_t plumbline_correct(const uint8_t* image, uint8_t index, const uint16_t* codes, size_t size, int32_t* microvolts) {
    return emb::correct(emb::read_range(image, index).line, codes, size, microvolts);
}

void plumbline_add(const uint8_t* image, uint8_t index, const uint16_t* codes, size_t size, plumbline_samples* to) {
    const emb::correction line = emb::read_range(image, index).line;
    emb::samples all(to->sum, to->size, to->outside != 0);
    for (size_t i = 0; i < size; ++i) all.add(line, codes[i]);
    *to = {all.sum(), all.size(), static_cast<uint8_t>(all.outside() ? 1 : 0)};
}

plumbline_reading plumbline_read(const uint8_t* image, uint8_t index, const plumbline_conditions* now,
                                 const plumbline_samples* of) {
    const emb::validity holds = emb::read_validity(image);
    const emb::reading r = emb::read(emb::read_range(image, index), holds, {now->mode, now->temperature, now->day},
                                     emb::samples(of->sum, of->size, of->outside != 0));
    return {r.microvolts, r.plus_or_minus, static_cast<uint8_t>(r.what)};
}

size_t plumbline_load(const plumbline_flash* flash, uint8_t* to, size_t capacity) {
    flash_of_functions by = {*flash};
    return emb::store<flash_of_functions>(by, layout_of(*flash)).load(to, capacity);
}

uint8_t plumbline_save(const plumbline_flash* flash, const uint8_t* from, size_t size) {
    flash_of_functions by = {*flash};
    return static_cast<uint8_t>(emb::store<flash_of_functions>(by, layout_of(*flash)).save(from, size));
}

uint32_t plumbline_erases(const plumbline_flash* flash) {
    flash_of_functions by = {*flash};
    return emb::store<flash_of_functions>(by, layout_of(*flash)).erases();
}
