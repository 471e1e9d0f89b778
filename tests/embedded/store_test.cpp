#include <plumbline/embedded/store.hpp>

#include <doctest/doctest.h>

#include "../slow_build.hpp"
#include "example_image.hpp"
#include "simulated_flash.hpp"

#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <initializer_list>
#include <random>
#include <vector>

namespace embedded_store_test {

namespace emb = plumbline::embedded;
using bytes = std::vector<std::uint8_t>;
using emb::save_result;

namespace {

constexpr std::uint32_t page = 64;
constexpr std::uint8_t every_granularity[] = {1, 2, 4, 8};

emb::store_layout layout(std::uint8_t granularity, std::uint32_t slot_size = 128) {
    return {{0, slot_size}, slot_size, page, granularity};
}

simulated_flash blank(const emb::store_layout& of) { return {std::size_t{2} * of.slot_size, of.page_size, of.granularity}; }

bytes content(std::size_t size, std::uint64_t seed) {
    std::mt19937_64 bits(seed);
    bytes made(size);
    for (std::uint8_t& byte : made) byte = static_cast<std::uint8_t>(bits());
    return made;
}

template <class Guards = emb::every_guard>
save_result save(simulated_flash& flash, const emb::store_layout& at, const bytes& what) {
    const save_result result = emb::store<simulated_flash, Guards>(flash, at).save(what.data(), what.size());
    flash.settle();
    return result;
}

/// As after power came on: a store that knows nothing but the flash.
template <class Guards = emb::every_guard>
bytes load(simulated_flash& flash, const emb::store_layout& at) {
    bytes found(1024);
    found.resize(emb::store<simulated_flash, Guards>(flash, at).load(found.data(), found.size()));
    return found;
}

/// Whether power failed before the save was through.
template <class Guards>
bool is_cut(simulated_flash& flash, const emb::store_layout& at, const bytes& what, long after, torn how) {
    flash.cut_after(after, how);
    try {
        save<Guards>(flash, at, what);
    } catch (const power_cut&) {
        return true;
    }
    return false;
}

bool is_one_of(const bytes& found, std::initializer_list<bytes> all) {
    return std::find(all.begin(), all.end(), found) != all.end();
}

struct tally {
    long cases = 0;
    long wrong = 0;       ///< found nothing, part of a content, or one that is not the last complete
    long not_stored = 0;  ///< after all cuts a save that was left alone did not store
};

struct faults {
    bool reorder = false;
    bool weak_bits = false;  ///< what was torn reads right until after the next cut
};

const bytes oldest = content(33, 1);
const bytes last = content(40, 2);
const bytes first_try = content(21, 3);
const bytes second_try = content(38, 4);
const bytes afterwards = content(40, 5);

/// Two saves, a third cut at every step, a fourth cut at every step, a fifth left alone; each step torn in several ways.
template <class Guards>
tally cut_twice(std::uint8_t granularity, int subsets, const faults& with = {}) {
    const emb::store_layout at = layout(granularity);
    const long commit_steps = 8 / granularity;
    tally all;
    simulated_flash stored = blank(at);
    save<Guards>(stored, at, oldest);
    save<Guards>(stored, at, last);
    if (with.reorder) stored.reorder();

    const auto steps_of = [&](const bytes& what) {
        simulated_flash copy = stored;
        const long before = copy.steps_done;
        save<Guards>(copy, at, what);
        return copy.steps_done - before;
    };
    const auto ways = [&](int way) { return way == 0 ? torn::all : way == 1 ? torn::none : torn::some; };

    const long first_steps = steps_of(first_try);
    const long second_steps = steps_of(second_try);
    for (long i = 0; i < first_steps; i += slow::build ? 7 : 1) {
        for (int first_way = 0; first_way < 2 + subsets; ++first_way) {
            simulated_flash once = stored;
            if (!is_cut<Guards>(once, at, first_try, i, ways(first_way))) continue;
            const bool committing = i >= first_steps - commit_steps;
            const bytes found = load<Guards>(once, at);
            ++all.cases;
            if (!(committing ? is_one_of(found, {last, first_try}) : found == last)) ++all.wrong;

            for (long j = 0; j < second_steps; j += slow::build ? 7 : 1) {
                for (int second_way = 0; second_way < (i % 3 == 0 ? 2 + subsets : 2); ++second_way) {
                    simulated_flash twice = once;
                    if (!is_cut<Guards>(twice, at, second_try, j, ways(second_way))) continue;
                    if (with.weak_bits) twice.rot_weak_bits(second_way % 2 == 0);
                    const bytes now = load<Guards>(twice, at);
                    ++all.cases;
                    // a weak commit word may take the content back that it stood for, as long as the one before is still there
                    const bool right = with.weak_bits && committing       ? is_one_of(now, {last, first_try, second_try})
                                       : j >= second_steps - commit_steps ? is_one_of(now, {found, second_try})
                                                                          : now == found;
                    if (!right) ++all.wrong;
                    if (save<Guards>(twice, at, afterwards) != save_result::saved || load<Guards>(twice, at) != afterwards)
                        ++all.not_stored;
                }
            }
        }
    }
    return all;
}

/// Every bit of the newest slot wrong, alone and with another one: either it does not matter or the one before is found.
template <class Guards>
tally rot() {
    const emb::store_layout at = layout(4);
    simulated_flash stored = blank(at);
    save<Guards>(stored, at, oldest);
    save<Guards>(stored, at, last);
    tally all;
    std::mt19937_64 bits(23);
    const auto slot_bits = at.slot_size * 8;
    for (std::uint32_t i = 0; i < slot_bits; i += slow::one_in) {
        for (int also = 0; also < 20; ++also) {
            simulated_flash rotten = stored;
            const auto flip = [&](std::uint64_t bit) {
                std::uint8_t& cell = rotten.cells[at.slots[1] + bit / 8];
                cell = static_cast<std::uint8_t>(cell ^ (1U << bit % 8));
            };
            flip(i);
            if (also > 0) flip(bits() % slot_bits);
            ++all.cases;
            if (!is_one_of(load<Guards>(rotten, at), {oldest, last})) ++all.wrong;
            if (save<Guards>(rotten, at, afterwards) != save_result::saved || load<Guards>(rotten, at) != afterwards)
                ++all.not_stored;
        }
    }
    return all;
}

struct no_crc : emb::every_guard {
    static constexpr bool crc = false;
};
struct no_commit : emb::every_guard {
    static constexpr bool commit = false;
};
struct no_firming : emb::every_guard {
    static constexpr bool firming = false;
};
struct no_newest : emb::every_guard {
    static constexpr bool newest_wins = false;
};
struct no_erase : emb::every_guard {
    static constexpr bool erase = false;
};

}  // namespace

TEST_CASE("a blank flash holds nothing, what is saved is found, and the newest is found") {
    for (const std::uint8_t granularity : every_granularity) {
        CAPTURE(granularity);
        const emb::store_layout at = layout(granularity, 512);
        simulated_flash flash = blank(at);
        CHECK(load(flash, at).empty());
        for (std::size_t size = 1; size <= 480; size += size % 13 + 1) {
            const bytes what = content(size, size);
            REQUIRE(save(flash, at, what) == save_result::saved);
            REQUIRE(load(flash, at) == what);
        }
        CHECK(flash.programmed_twice == 0);
    }
}

TEST_CASE("a flash full of zeros or of noise holds nothing and can be saved to") {
    const emb::store_layout at = layout(4);
    for (std::uint64_t seed = 0; seed < 4; ++seed) {
        simulated_flash flash = blank(at);
        flash.cells = seed == 0 ? bytes(flash.cells.size(), 0) : content(flash.cells.size(), seed);
        CHECK(load(flash, at).empty());
        CHECK(save(flash, at, last) == save_result::saved);
        CHECK(load(flash, at) == last);
    }
}

TEST_CASE("content that does not fit is refused and the flash left alone") {
    const emb::store_layout at = layout(4);
    simulated_flash flash = blank(at);
    CHECK(save(flash, at, content(96, 1)) == save_result::saved);
    const bytes before = flash.cells;
    CHECK(save(flash, at, content(97, 1)) == save_result::too_large);
    CHECK(save(flash, at, {}) == save_result::too_large);
    CHECK(flash.cells == before);
    std::uint8_t small[95];
    CHECK(emb::store<simulated_flash>(flash, at).load(small, sizeof small) == 0);
}

TEST_CASE("after a power cut in any step, and another in any step of the next save, the last complete content is found") {
    for (const std::uint8_t granularity : every_granularity) {
        CAPTURE(granularity);
        const tally all = cut_twice<emb::every_guard>(granularity, granularity == 1 ? 1 : 4);
        CHECK(all.cases > (slow::build ? 20 : 1000));
        CHECK(all.wrong == 0);
        CHECK(all.not_stored == 0);
    }
}

TEST_CASE("a power cut in any step of the first save ever leaves nothing or all of it, and the next save works") {
    for (const std::uint8_t granularity : every_granularity) {
        const emb::store_layout at = layout(granularity);
        for (const std::uint64_t before : {0U, 1U, 2U}) {  // erased, zeros, noise
            simulated_flash fresh = blank(at);
            if (before != 0) fresh.cells = before == 1 ? bytes(fresh.cells.size(), 0) : content(fresh.cells.size(), before);
            CAPTURE(granularity);
            CAPTURE(before);
            long cuts = 0;
            for (const torn way : {torn::none, torn::some, torn::all}) {
                for (long i = 0;; ++i, ++cuts) {
                    simulated_flash cut = fresh;
                    simulated_flash disordered = fresh;
                    disordered.reorder();
                    if (is_cut<emb::every_guard>(disordered, at, last, i, way))
                        REQUIRE(is_one_of(load(disordered, at), {{}, last}));
                    if (!is_cut<emb::every_guard>(cut, at, last, i, way)) break;
                    const bytes found = load(cut, at);
                    REQUIRE((found.empty() || found == last));
                    cut.rot_weak_bits(true);
                    REQUIRE(is_one_of(load(cut, at), {{}, last}));
                    REQUIRE(save(cut, at, afterwards) == save_result::saved);
                    REQUIRE(load(cut, at) == afterwards);
                }
            }
            CHECK(cuts == 3 * (2 + (24 + 40 + 8) / granularity));  // pages, header, content, commit word
        }
    }
}

TEST_CASE("it is found also if the flash did its steps in another order") {
    for (const std::uint8_t granularity : every_granularity) {
        CAPTURE(granularity);
        const tally all = cut_twice<emb::every_guard>(granularity, granularity == 1 ? 0 : 3, {.reorder = true});
        CHECK(all.wrong == 0);
        CHECK(all.not_stored == 0);
    }
}

TEST_CASE("it is found also if what a torn step wrote reads right at first and turns back after the next cut") {
    for (const std::uint8_t granularity : every_granularity) {
        CAPTURE(granularity);
        const tally all = cut_twice<emb::every_guard>(granularity, granularity == 1 ? 0 : 3, {.weak_bits = true});
        CHECK(all.wrong == 0);
        CHECK(all.not_stored == 0);
    }
}

TEST_CASE("it is found also if bits have rotted in the newest slot") {
    const tally all = rot<emb::every_guard>();
    CHECK(all.cases == (128 * 8 - 1) / static_cast<long>(slow::one_in) * 20 + 20);
    CHECK(all.wrong == 0);
    CHECK(all.not_stored == 0);
}

TEST_CASE("every guard is needed: without it a content is lost" * doctest::skip(slow::build)) {
    SUBCASE("without the CRC rotten content is taken for whole") { CHECK(rot<no_crc>().wrong > 0); }
    SUBCASE("without the CRC content written in another order is taken for whole") {
        CHECK(cut_twice<no_crc>(4, 5, {.reorder = true}).wrong > 0);
    }
    SUBCASE("without the commit word content with weak bits is relied on") {
        CHECK(cut_twice<no_commit>(4, 5, {.weak_bits = true}).wrong > 0);
    }
    SUBCASE("without firming a weak commit word is relied on") {
        CHECK(cut_twice<no_firming>(4, 5, {.weak_bits = true}).wrong > 0);
    }
    SUBCASE("without newest wins an older one is found") { CHECK(cut_twice<no_newest>(4, 5).not_stored > 0); }
    SUBCASE("without the erase nothing can be saved any more") { CHECK(cut_twice<no_erase>(4, 5).not_stored > 0); }
}

TEST_CASE("an image of two channels of two ranges survives a cut in any step of its save") {
    const emb::store_layout at = layout(8, 448);
    simulated_flash stored = blank(at);
    const bytes image = example_image::bytes();
    const bytes other = example_image::bytes(3);
    save(stored, at, image);
    for (long i = 0;; ++i) {
        simulated_flash cut = stored;
        if (!is_cut<emb::every_guard>(cut, at, other, i, torn::some)) {
            CHECK(i == 1 + 7 + 3 + 40 + 1);  // firming, pages, header, 316 bytes, commit word
            CHECK(load(cut, at) == other);
            break;
        }
        const bytes found = load(cut, at);
        REQUIRE(found == image);
        REQUIRE(emb::check(found.data(), found.size()) == emb::image_fault::none);
    }
}

TEST_CASE("a flash that fails or does not keep what it is given leaves the content of before") {
    const emb::store_layout at = layout(4);
    simulated_flash stored = blank(at);
    save(stored, at, oldest);
    save(stored, at, last);
    for (long i = 0; i < 20; ++i) {
        simulated_flash failing = stored;
        failing.fail_after(i);
        CHECK(save(failing, at, first_try) == (i < 2 + 2 + 6 + 6 + 2 ? save_result::flash_failed : save_result::saved));
        CHECK(load(failing, at) == (i < 18 ? last : first_try));
    }
    long refused = 0;
    for (std::uint32_t cell = 0; cell < 32 + 21; ++cell) {
        simulated_flash worn = stored;
        worn.wear_out(cell, 0x10);
        const bool saved = save(worn, at, first_try) == save_result::saved;
        refused += saved ? 0 : 1;
        CHECK(load(worn, at) == (saved ? first_try : last));
    }
    CHECK(refused > 20);  // where the bit was to be cleared
}

TEST_CASE("the erases of the more worn slot are counted and survive cuts") {
    const emb::store_layout at = layout(4);
    const auto counted = [&](simulated_flash& flash) { return emb::store<simulated_flash>(flash, at).erases(); };
    simulated_flash flash = blank(at);
    CHECK(counted(flash) == 0);
    for (std::uint64_t i = 0; i < 1001; ++i) save(flash, at, content(30, i));
    CHECK(flash.erases[0] == 501);
    CHECK(counted(flash) == 501);

    std::mt19937_64 bits(29);
    std::uint32_t cuts = 0;
    for (std::uint64_t i = 0; i < 2000; ++i)
        if (is_cut<emb::every_guard>(flash, at, content(30, i), static_cast<long>(bits() % 40), torn::some)) ++cuts;
    save(flash, at, last);
    save(flash, at, last);
    const std::uint32_t erased = std::max(flash.erases[at.slots[0]], flash.erases[at.slots[1]]);
    CHECK(cuts > 500);
    CHECK(counted(flash) <= erased);
    CHECK(counted(flash) + cuts >= erased);
}

TEST_CASE("the newest is found where the count of saves passes 32 bits") {
    const emb::store_layout at = layout(4);
    simulated_flash flash = blank(at);
    save(flash, at, oldest);
    // the header of a slot saved for the 4294967295th time
    emb::byte_writer header(flash.cells.data() + 8);
    header.u32(0xFFFFFFFF);
    emb::byte_writer(flash.cells.data() + 24).u32(emb::crc32(flash.cells.data() + 8, 16));
    REQUIRE(load(flash, at) == oldest);
    save(flash, at, last);
    CHECK(load(flash, at) == last);
    save(flash, at, afterwards);
    CHECK(load(flash, at) == afterwards);
}

}  // namespace embedded_store_test
