/* The embedded part of Plumbline for firmware in C99. Behind it stands src/embedded/plumbline_embedded.cpp, compiled as C++14.
 *
 * An image stays bytes, in flash or RAM: every function takes its address. What the numbers mean is said in the C++ headers
 * beside this one, named at each. No function keeps an address, allocates or has state of its own. */
#ifndef PLUMBLINE_EMBEDDED_H
#define PLUMBLINE_EMBEDDED_H

#include <stddef.h>
#include <stdint.h>

#include "words.h"

#ifdef __cplusplus
extern "C" {
#endif

/* status of reading.hpp */
enum {
    PLUMBLINE_OK = 0,
    PLUMBLINE_OVER_RANGE = 1,
    PLUMBLINE_NOT_CALIBRATED = 2,
    PLUMBLINE_OUTSIDE_VALIDITY = 3,
    PLUMBLINE_OTHER_MODE = 4,
    PLUMBLINE_NO_SAMPLES = 5
};

/* image_fault of image.hpp */
enum {
    PLUMBLINE_IMAGE_GOOD = 0,
    PLUMBLINE_NOT_AN_IMAGE = 1,
    PLUMBLINE_NEWER_FORMAT = 2,
    PLUMBLINE_WRONG_SIZE = 3,
    PLUMBLINE_DAMAGED = 4,
    PLUMBLINE_BAD_CONTENT = 5
};

/* save_result of store.hpp */
enum { PLUMBLINE_SAVED = 0, PLUMBLINE_TOO_LARGE = 1, PLUMBLINE_FLASH_FAILED = 2 };

#define PLUMBLINE_UNKNOWN_TEMPERATURE (-0x7FFF - 1)
#define PLUMBLINE_UNKNOWN_DAY 0xFFFF

typedef struct {
    uint16_t mode;       /* the firmware's own number */
    int16_t temperature; /* 0.01 degree Celsius, or unknown */
    uint16_t day;        /* since 2000-01-01, or unknown */
} plumbline_conditions;

/* Samples added up. Begin with zeros. */
typedef struct {
    uint32_t sum;
    uint16_t size;
    uint8_t outside; /* not 0: one was out of range */
} plumbline_samples;

typedef struct {
    int32_t microvolts;     /* 0 unless ok */
    uint32_t plus_or_minus; /* microvolts; 0 unless ok */
    uint8_t status;
} plumbline_reading;

/* Whether bytes of any origin are an image that this firmware can use: 0 or the fault. All other functions want a good image. */
uint8_t plumbline_check(const uint8_t* bytes, size_t size);

/* Whether this is the image of the instrument of that model and serial number, 16 bytes each, filled up with zeros: 0 if not. */
int plumbline_is_of(const uint8_t* image, const char model[16], const char serial[16]);

/* Looks for the adjustment of a range of a channel in a mode. Returns a status; *index is left alone unless it is ok. */
uint8_t plumbline_find(const uint8_t* image, uint8_t channel, uint8_t range, uint16_t mode, uint8_t* index);

/* Corrects a block of codes; returns how many were out of range: correction.hpp. */
size_t plumbline_correct(const uint8_t* image, uint8_t index, const uint16_t* codes, size_t size, int32_t* microvolts);

/* Adds codes to the samples of a reading. */
void plumbline_add(const uint8_t* image, uint8_t index, const uint16_t* codes, size_t size, plumbline_samples* to);

/* The mean of the samples with its expanded uncertainty, or the reason why there is none: reading.hpp. */
plumbline_reading plumbline_read(const uint8_t* image, uint8_t index, const plumbline_conditions* now,
                                 const plumbline_samples* of);

/* Flash with two slots: store.hpp. program() gets one granule; program() and erase() return 0 if they failed. */
typedef struct {
    void* context; /* handed to the functions */
    void (*read)(void* context, uint32_t address, uint8_t* to, size_t size);
    int (*program)(void* context, uint32_t address, const uint8_t* from, size_t size);
    int (*erase)(void* context, uint32_t address);
    uint32_t slots[2];
    uint32_t slot_size;
    uint32_t page_size;
    uint8_t granularity;
} plumbline_flash;

/* Copies the last content that was saved completely; returns its size, 0 if there is none or it exceeds capacity. */
size_t plumbline_load(const plumbline_flash* flash, uint8_t* to, size_t capacity);

/* Saves content; returns a save result. What was stored before is found until the last step has succeeded. */
uint8_t plumbline_save(const plumbline_flash* flash, const uint8_t* from, size_t size);

/* How often the more worn slot has been erased. */
uint32_t plumbline_erases(const plumbline_flash* flash);

#ifdef __cplusplus
}
#endif

#endif
