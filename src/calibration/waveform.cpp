#include <plumbline/calibration/waveform.hpp>

#include <utility>

namespace plumbline::inline v0::calibration {

capture::code_to_volts code_to_volts(const range_calibration& of) {
    capture::code_to_volts by;
    by.line = {of.result.gain, of.result.offset};
    by.u = {of.compact.a, of.compact.c, of.compact.centre};
    if (!of.negative_result) return by;
    by.below = capture::code_line{of.negative_result->gain, of.negative_result->offset};
    by.knee = of.zero.seen.mean;
    if (of.reference.seen.mean < by.knee) std::swap(by.line, *by.below);  // the reference step is the one below
    return by;
}

}  // namespace plumbline::inline v0::calibration
