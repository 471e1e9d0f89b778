#include <plumbline/embedded/plumbline_embedded.h>

#include <doctest/doctest.h>

#include "example_image.hpp"
#include "simulated_flash.hpp"

#include <cstdint>
#include <vector>

namespace c_functions_test {

namespace emb = plumbline::embedded;

namespace {

simulated_flash& flash_at(void* context) { return *static_cast<simulated_flash*>(context); }

plumbline_flash functions_of(simulated_flash& flash) {
    plumbline_flash of = {};
    of.context = &flash;
    of.read = [](void* c, std::uint32_t address, std::uint8_t* to, std::size_t size) { flash_at(c).read(address, to, size); };
    of.program = [](void* c, std::uint32_t address, const std::uint8_t* from, std::size_t size) {
        return flash_at(c).program(address, from, size) ? 1 : 0;
    };
    of.erase = [](void* c, std::uint32_t address) { return flash_at(c).erase(address) ? 1 : 0; };
    of.slots[1] = 512;
    of.slot_size = 512;
    of.page_size = 256;
    of.granularity = 4;
    return of;
}

}  // namespace

TEST_CASE("the C functions read what the C++ ones do") {
    const std::vector<std::uint8_t> image = example_image::bytes();
    CHECK(plumbline_check(image.data(), image.size()) == PLUMBLINE_IMAGE_GOOD);
    CHECK(plumbline_check(image.data(), image.size() - 1) == PLUMBLINE_WRONG_SIZE);

    const emb::identity whose = example_image::identity();
    CHECK(plumbline_is_of(image.data(), whose.model, whose.serial) == 1);
    CHECK(plumbline_is_of(image.data(), whose.serial, whose.model) == 0);

    std::uint8_t index = 77;
    CHECK(plumbline_find(image.data(), 1, 1, 9, &index) == PLUMBLINE_OTHER_MODE);
    CHECK(index == 77);
    CHECK(plumbline_find(image.data(), 1, 1, 3, &index) == PLUMBLINE_OK);
    CHECK(index == 3);

    const emb::range range = example_image::ranges()[3];
    const std::uint16_t codes[] = {2248, 2249, 2250, 0, 4095, 4094};
    std::int32_t microvolts[6] = {};
    CHECK(plumbline_correct(image.data(), index, codes, 6, microvolts) == 2);
    for (int i = 0; i < 6; ++i) CHECK(microvolts[i] == emb::correct(range.line, codes[i]));

    const plumbline_conditions now = {3, 2500, 9300};
    plumbline_samples sum = {};
    emb::samples same;
    CHECK(plumbline_read(image.data(), index, &now, &sum).status == PLUMBLINE_NO_SAMPLES);
    plumbline_add(image.data(), index, codes, 2, &sum);
    plumbline_add(image.data(), index, codes + 2, 1, &sum);
    for (int i = 0; i < 3; ++i) same.add(range.line, codes[i]);
    const plumbline_reading r = plumbline_read(image.data(), index, &now, &sum);
    const emb::reading expected = emb::read(range, example_image::identity().holds, {3, 2500, 9300}, same);
    CHECK(r.status == PLUMBLINE_OK);
    CHECK(r.microvolts == expected.microvolts);
    CHECK(r.plus_or_minus == expected.plus_or_minus);
    CHECK(expected.plus_or_minus > 0);
    plumbline_add(image.data(), index, codes + 3, 1, &sum);
    CHECK(plumbline_read(image.data(), index, &now, &sum).status == PLUMBLINE_OVER_RANGE);
}

TEST_CASE("the C functions store through functions of the firmware") {
    simulated_flash cells(1024, 256, 4);
    const plumbline_flash flash = functions_of(cells);
    const std::vector<std::uint8_t> image = example_image::bytes();
    std::vector<std::uint8_t> found(384);
    CHECK(plumbline_load(&flash, found.data(), found.size()) == 0);
    CHECK(plumbline_save(&flash, image.data(), image.size()) == PLUMBLINE_SAVED);
    CHECK(plumbline_save(&flash, image.data(), 481) == PLUMBLINE_TOO_LARGE);
    CHECK(plumbline_erases(&flash) == 1);
    found.resize(plumbline_load(&flash, found.data(), found.size()));
    CHECK(found == image);
    cells.fail_after(3);
    CHECK(plumbline_save(&flash, image.data(), 100) == PLUMBLINE_FLASH_FAILED);
    CHECK(plumbline_load(&flash, found.data(), found.size()) == image.size());
}

}  // namespace c_functions_test
