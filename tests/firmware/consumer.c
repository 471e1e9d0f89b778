/* Firmware in C99: reads an image, a voltage with its plus-or-minus, and stores the image in flash of its own. */

#include <plumbline/embedded/plumbline_embedded.h>

static uint8_t cells[1024];

static void read_cells(void* context, uint32_t address, uint8_t* to, size_t size) {
    (void)context;
    for (size_t i = 0; i < size; ++i) to[i] = cells[address + i];
}

static int program_cells(void* context, uint32_t address, const uint8_t* from, size_t size) {
    (void)context;
    for (size_t i = 0; i < size; ++i) cells[address + i] &= from[i];
    return 1;
}

static int erase_cells(void* context, uint32_t address) {
    (void)context;
    for (size_t i = 0; i < 512; ++i) cells[address + i] = 0xFF;
    return 1;
}

/* What goes wrong first, counted from 1; 0 if all is as it should be. The image and what it reads come from a C++ program. */
int consume(const uint8_t* image, size_t size, int32_t microvolts, uint32_t plus_or_minus) {
    const plumbline_flash flash = {0, read_cells, program_cells, erase_cells, {0, 512}, 512, 512, 4};
    static uint8_t loaded[384];
    if (plumbline_check(image, size) != PLUMBLINE_IMAGE_GOOD) return 1;
    if (plumbline_check(image, size - 1) != PLUMBLINE_WRONG_SIZE) return 2;
    if (plumbline_save(&flash, image, size) != PLUMBLINE_SAVED) return 3;
    if (plumbline_load(&flash, loaded, sizeof loaded) != size) return 4;
    for (size_t i = 0; i < size; ++i)
        if (loaded[i] != image[i]) return 5;

    uint8_t index;
    if (plumbline_find(loaded, 1, 0, 3, &index) != PLUMBLINE_OK) return 6;
    if (plumbline_find(loaded, 1, 0, 4, &index) != PLUMBLINE_OTHER_MODE) return 7;
    if (plumbline_find(loaded, 0, 0, 3, &index) != PLUMBLINE_NOT_CALIBRATED) return 8;

    const uint16_t codes[3] = {2248, 2249, 2251};
    const plumbline_conditions now = {3, PLUMBLINE_UNKNOWN_TEMPERATURE, PLUMBLINE_UNKNOWN_DAY};
    plumbline_samples sum = {0, 0, 0};
    plumbline_add(loaded, index, codes, 3, &sum);
    const plumbline_reading r = plumbline_read(loaded, index, &now, &sum);
    if (r.status != PLUMBLINE_OK) return 9;
    if (r.microvolts != microvolts) return 10;
    if (r.plus_or_minus != plus_or_minus) return 11;
    int32_t corrected[3];
    if (plumbline_correct(loaded, index, codes, 3, corrected) != 0) return 12;
    return plumbline_erases(&flash) == 1 ? 0 : 13;
}
