#pragma once
// Records whose images the tests make: the shipped one, and one of a single range with a single line.

#include <certificate/example_record.hpp>
#include <plumbline/image/image.hpp>
#include <plumbline/record/json.hpp>
#include <string>

namespace example_image_record {

namespace pl = plumbline;

inline const pl::record::record& shipped() {
    static const pl::record::record r =
        pl::record::read_record(std::string(PLUMBLINE_SOURCE_DIR "/cal_records/PS2-0007-2025-03.json"));
    return r;
}

/// The shipped record states conditions of use for every range.
inline pl::image::settings shipped_settings() { return {}; }

inline const pl::image::made_image& shipped_image() {
    static const pl::image::made_image made = pl::image::make_image(shipped(), shipped_settings());
    return made;
}

/// Channel A, -10 V to 10 V, two steps.
inline const pl::record::record& one_line() {
    static const pl::record::record all = [] {
        pl::record::record r = pl::example::pocket_scope();
        r.ranges[0].in_use = pl::calibration::use_conditions{
            1.0, 10.0 * pl::kelvin, 5e-4 * pl::one, 2e-3 * pl::volt, 2e-4 * pl::one, 1e-3 * pl::volt};
        r.ranges[0].ambient = r.ambient.temperature;
        return r;
    }();
    return all;
}

}  // namespace example_image_record
