#pragma once
// Identities of a record's inputs: what two results share when they name the same one.

#include <string>

namespace plumbline::inline v0::calibration::identity {

/// Everything that belongs to one range of one channel.
[[nodiscard]] inline std::string range(const std::string& channel, const std::string& range) { return channel + "/" + range; }
[[nodiscard]] inline std::string zero(const std::string& of_range) { return of_range + "/zero"; }
[[nodiscard]] inline std::string reference_step(const std::string& of_range) { return of_range + "/reference"; }
[[nodiscard]] inline std::string negative_step(const std::string& of_range) { return of_range + "/negative"; }
[[nodiscard]] inline std::string further_step(const std::string& of_range, const std::string& name) {
    return of_range + "/step/" + name;
}
/// What a drift may have moved all further steps by.
[[nodiscard]] inline std::string drift_of_points(const std::string& of_range) { return of_range + "/drift of the points"; }
[[nodiscard]] inline std::string check(const std::string& of_range, const std::string& name) {
    return of_range + "/check/" + name;
}
[[nodiscard]] inline std::string transfer(const std::string& of_range, const std::string& name) {
    return of_range + "/transfer/" + name;
}
[[nodiscard]] inline std::string reading(const std::string& of_range) { return of_range + "/reading"; }
/// What comes into readings from another channel.
[[nodiscard]] inline std::string crosstalk(const std::string& of_range, const std::string& other_channel) {
    return reading(of_range) + "/crosstalk from " + other_channel;
}
[[nodiscard]] inline std::string part(const std::string& of_range, const std::string& name) { return of_range + "/" + name; }

/// Parts of an amplifier.
inline constexpr const char* amplifier_feedback = "amplifier feedback";
inline constexpr const char* amplifier_ground = "amplifier ground";
inline constexpr const char* amplifier_offset = "amplifier offset";
inline constexpr const char* amplifier_into_plus = "amplifier current into plus";
inline constexpr const char* amplifier_into_minus = "amplifier current into minus";

/// Of the converter's pin.
[[nodiscard]] inline std::string sampling_capacitor(const std::string& of_range) {
    return part(of_range, "converter") + "/sampling capacitor";
}
[[nodiscard]] inline std::string leakage(const std::string& of_range) { return part(of_range, "converter") + "/leakage"; }
[[nodiscard]] inline std::string thermal_noise(const std::string& of_range) {
    return part(of_range, "converter") + "/thermal noise";
}

/// A part's temperature coefficient, and its relative change by temperature at a step, check point or reading.
[[nodiscard]] inline std::string coefficient(const std::string& part) { return part + "/temperature coefficient"; }
[[nodiscard]] inline std::string temperature(const std::string& at, const std::string& part) {
    return at + "/temperature of " + part;
}

/// A resistor between a source and the connector: one of its own at each step, or one with a name wherever that is used.
[[nodiscard]] inline std::string source(const std::string& at, const std::string& name) {
    return name.empty() ? at + "/source" : "source/" + name;
}

/// What some captures show and others do not: hum that stands out, noise that does not average out. `at` is a step, check point or reading.
[[nodiscard]] inline std::string hum(const std::string& at) { return at + "/hum"; }
/// Hum that a capture is too short to show.
[[nodiscard]] inline std::string unseen_hum(const std::string& at) { return at + "/unseen hum"; }
/// A sine that is stated for the place and slower than the capture lasts.
[[nodiscard]] inline std::string slow_disturbance(const std::string& at) { return at + "/slow disturbance"; }
[[nodiscard]] inline std::string slow_noise(const std::string& at) { return at + "/slow noise"; }

/// Everything that belongs to one reference, wherever it is used.
[[nodiscard]] inline std::string reference(const std::string& id) { return "reference/" + id; }

}  // namespace plumbline::inline v0::calibration::identity
