#pragma once
// A flash whose power fails in the middle of a step, with torn bits, weak bits, steps out of order and cells that fail.

#include <cstddef>
#include <cstdint>
#include <limits>
#include <map>
#include <random>
#include <stdexcept>
#include <utility>
#include <vector>

struct power_cut : std::runtime_error {
    power_cut() : std::runtime_error("power cut") {}
};

/// Which bits of the step in which power fails have changed by then.
enum class torn { none, all, some };

class simulated_flash {
public:
    simulated_flash(std::size_t size, std::size_t page, std::size_t granularity, std::uint32_t seed = 1)
        : cells(size, 0xFF), page_(page), granularity_(granularity), used_(size / granularity), bits_(seed) {}

    void read(std::uint32_t address, std::uint8_t* to, std::size_t size) const {
        for (std::size_t i = 0; i < size; ++i) to[i] = cells.at(address + i);
    }

    bool program(std::uint32_t address, const std::uint8_t* from, std::size_t size) {
        if (size != granularity_ || address % granularity_ != 0) throw std::logic_error("not one granule");
        bytes wanted(from, from + size);
        bool zeros = true;
        for (std::size_t i = 0; i < size; ++i) {
            zeros = zeros && wanted[i] == 0;
            wanted[i] = static_cast<std::uint8_t>(wanted[i] & cells.at(address + i));
        }
        if (used_.at(address / granularity_) && !zeros) ++programmed_twice;
        used_[address / granularity_] = true;
        return step(address, wanted);
    }

    bool erase(std::uint32_t address) {
        if (address % page_ != 0) throw std::logic_error("not a page");
        unsettled_.clear();  // a page is erased only after all that was told before
        for (std::size_t i = 0; i < page_ / granularity_; ++i) used_.at(address / granularity_ + i) = false;
        ++erases[address];
        const bool done = step(address, bytes(page_, 0xFF));
        unsettled_.clear();
        return done;
    }

    /// Power fails in the step after `steps` more ones.
    void cut_after(long steps, torn how) {
        left_ = steps;
        how_ = how;
    }
    /// Power is back, or stayed: everything told has been done.
    void settle() {
        left_ = std::numeric_limits<long>::max();
        unsettled_.clear();
    }
    /// Of the steps told since the last erase any may be missing after a cut.
    void reorder() { reorders_ = true; }
    /// Bits that changed in a torn step and have not been written completely since turn back, all or some of them.
    void rot_weak_bits(bool all) {
        for (const auto& [address, before] : weak_) {
            std::uint8_t& cell = cells.at(address);
            const auto changed = static_cast<std::uint8_t>((cell ^ before) & (all ? 0xFFU : random_byte()));
            cell = static_cast<std::uint8_t>(cell ^ changed);
        }
        weak_.clear();
    }
    /// From that step on the flash says that it failed.
    void fail_after(long steps) { fails_at_ = steps_done + steps; }
    /// A bit that cannot be cleared any more.
    void wear_out(std::uint32_t address, std::uint8_t bit_mask) { stuck_[address] = bit_mask; }

    std::vector<std::uint8_t> cells;
    std::map<std::uint32_t, std::uint32_t> erases;  ///< by the address of the page
    long steps_done = 0;
    long programmed_twice = 0;  ///< a granule with content, without an erase in between: not allowed with error correction

private:
    using bytes = std::vector<std::uint8_t>;

    std::uint8_t random_byte() { return static_cast<std::uint8_t>(bits_() >> 16); }

    bool step(std::uint32_t address, const bytes& wanted) {
        if (steps_done >= fails_at_) return false;
        if (left_ == 0) tear(address, wanted);
        --left_;
        ++steps_done;
        bytes before(wanted.size());
        read(address, before.data(), before.size());
        unsettled_.emplace_back(address, before);
        for (std::size_t i = 0; i < wanted.size(); ++i) {
            const auto at = static_cast<std::uint32_t>(address + i);
            cells[at] = wanted[i];
            weak_.erase(at);
            if (const auto stuck = stuck_.find(at); stuck != stuck_.end())
                cells[at] = static_cast<std::uint8_t>(cells[at] | stuck->second);
        }
        return true;
    }

    [[noreturn]] void tear(std::uint32_t address, const bytes& wanted) {
        if (reorders_) {
            for (auto missing = unsettled_.rbegin(); missing != unsettled_.rend(); ++missing) {
                if (bits_() % 2 == 0) continue;
                for (std::size_t i = 0; i < missing->second.size(); ++i) cells[missing->first + i] = missing->second[i];
            }
        }
        for (std::size_t i = 0; i < wanted.size(); ++i) {
            const auto at = static_cast<std::uint32_t>(address + i);
            const std::uint8_t part = how_ == torn::none ? 0 : how_ == torn::all ? 0xFF : random_byte();
            const auto changed = static_cast<std::uint8_t>((cells[at] ^ wanted[i]) & part);
            if (changed == 0) continue;
            weak_.emplace(at, cells[at]);  // keeps the oldest
            cells[at] = static_cast<std::uint8_t>(cells[at] ^ changed);
        }
        settle();
        throw power_cut();
    }

    std::size_t page_;
    std::size_t granularity_;
    std::vector<bool> used_;
    std::minstd_rand bits_;  ///< small: the whole flash is copied for every case
    long left_ = std::numeric_limits<long>::max();
    torn how_ = torn::none;
    bool reorders_ = false;
    long fails_at_ = std::numeric_limits<long>::max();
    std::vector<std::pair<std::uint32_t, bytes>> unsettled_;
    std::map<std::uint32_t, std::uint8_t> weak_;
    std::map<std::uint32_t, std::uint8_t> stuck_;
};
