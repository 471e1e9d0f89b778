#pragma once
// The quantities of this library: SI and one dimension more, the code of an analogue-to-digital converter.

#include <boost/units/base_dimension.hpp>
#include <boost/units/base_unit.hpp>
#include <boost/units/make_system.hpp>
#include <boost/units/physical_dimensions/conductance.hpp>
#include <boost/units/physical_dimensions/current.hpp>
#include <boost/units/physical_dimensions/electric_potential.hpp>
#include <boost/units/physical_dimensions/frequency.hpp>
#include <boost/units/physical_dimensions/resistance.hpp>
#include <boost/units/physical_dimensions/temperature.hpp>
#include <boost/units/physical_dimensions/time.hpp>
#include <boost/units/quantity.hpp>
#include <boost/units/systems/si/base.hpp>
#include <concepts>

#include <plumbline/units/unlike.hpp>

namespace plumbline::inline v0 {

/// A raw code has a dimension of its own: a dimensionless quantity would convert silently to and from double.
struct code_dimension : boost::units::base_dimension<code_dimension, 1> {};

struct code_base_unit : boost::units::base_unit<code_base_unit, code_dimension::dimension_type, 1> {
    static constexpr const char* name() { return "code"; }
    static constexpr const char* symbol() { return "code"; }
};

/// The one system of the library. The code stands in it together with the SI base units; beside SI, V/code times code would not be V.
using unit_system = boost::units::make_system<boost::units::si::meter_base_unit, boost::units::si::kilogram_base_unit,
                                              boost::units::si::second_base_unit, boost::units::si::ampere_base_unit,
                                              boost::units::si::kelvin_base_unit, code_base_unit>::type;

template <class Dimension>
using unit_of = boost::units::unit<Dimension, unit_system>;

using voltage = boost::units::quantity<unit_of<boost::units::electric_potential_dimension>>;  ///< V
using codes = boost::units::quantity<unit_of<code_dimension::dimension_type>>;                ///< ADC codes, whole or mean
using resistance = boost::units::quantity<unit_of<boost::units::resistance_dimension>>;       ///< ohm
using conductance = boost::units::quantity<unit_of<boost::units::conductance_dimension>>;     ///< S
using current = boost::units::quantity<unit_of<boost::units::current_dimension>>;             ///< A
using frequency = boost::units::quantity<unit_of<boost::units::frequency_dimension>>;         ///< Hz
using duration = boost::units::quantity<unit_of<boost::units::time_dimension>>;               ///< s
using ratio = boost::units::quantity<unit_of<boost::units::dimensionless_type>>;              ///< 1
using kelvins = boost::units::quantity<unit_of<boost::units::temperature_dimension>>;         ///< K, a temperature difference

using volts_per_code = decltype(voltage() / codes());  ///< V/code, the gain of a correction
using per_kelvin = decltype(ratio() / kelvins());      ///< 1/K, a temperature coefficient
using volts_per_kelvin = decltype(voltage() / kelvins());
using amperes_per_kelvin = decltype(current() / kelvins());
using capacitance = decltype(duration() / resistance());  ///< F
using power = decltype(voltage() * current());            ///< W

inline constexpr voltage volt = voltage::from_value(1.0);
inline constexpr codes code = codes::from_value(1.0);
inline constexpr resistance ohm = resistance::from_value(1.0);
inline constexpr current ampere = current::from_value(1.0);
inline constexpr frequency hertz = frequency::from_value(1.0);
inline constexpr duration second = duration::from_value(1.0);
inline constexpr kelvins kelvin = kelvins::from_value(1.0);
inline constexpr capacitance farad = capacitance::from_value(1.0);
inline constexpr power watt = power::from_value(1.0);
inline constexpr ratio one = ratio::from_value(1.0);
inline constexpr ratio ppm = ratio::from_value(1e-6);
inline constexpr ratio percent = ratio::from_value(1e-2);

// Boost multiplies a quantity of double by double alone; these take whole numbers too: 2 * v, sum / n.
template <std::integral Number, class Dimension>
constexpr boost::units::quantity<unit_of<Dimension>> operator*(Number a, const boost::units::quantity<unit_of<Dimension>>& b) {
    return static_cast<double>(a) * b;
}
template <class Dimension, std::integral Number>
constexpr boost::units::quantity<unit_of<Dimension>> operator*(const boost::units::quantity<unit_of<Dimension>>& a, Number b) {
    return a * static_cast<double>(b);
}
template <std::integral Number, class Dimension>
constexpr auto operator/(Number a, const boost::units::quantity<unit_of<Dimension>>& b) {
    return static_cast<double>(a) / b;
}
template <class Dimension, std::integral Number>
constexpr boost::units::quantity<unit_of<Dimension>> operator/(const boost::units::quantity<unit_of<Dimension>>& a, Number b) {
    return a / static_cast<double>(b);
}

/// A temperature on the Celsius scale. Points are not quantities: two of them do not add, their difference is in kelvins.
struct celsius {
    double degrees = 0.0;
    friend constexpr kelvins operator-(celsius a, celsius b) { return kelvins::from_value(a.degrees - b.degrees); }
    friend constexpr bool operator==(const celsius&, const celsius&) = default;
};

/// Symbol of a quantity's unit as records and messages print it ("V", "code", "1" ...). Defined for the quantities an input may have.
template <class Quantity>
inline constexpr const char* unit_symbol = nullptr;
template <>
inline constexpr const char* unit_symbol<voltage> = "V";
template <>
inline constexpr const char* unit_symbol<codes> = "code";
template <>
inline constexpr const char* unit_symbol<resistance> = "ohm";
template <>
inline constexpr const char* unit_symbol<current> = "A";
template <>
inline constexpr const char* unit_symbol<frequency> = "Hz";
template <>
inline constexpr const char* unit_symbol<duration> = "s";
template <>
inline constexpr const char* unit_symbol<ratio> = "1";
template <>
inline constexpr const char* unit_symbol<kelvins> = "K";
template <>
inline constexpr const char* unit_symbol<volts_per_code> = "V/code";
template <>
inline constexpr const char* unit_symbol<per_kelvin> = "1/K";
template <>
inline constexpr const char* unit_symbol<volts_per_kelvin> = "V/K";
template <>
inline constexpr const char* unit_symbol<amperes_per_kelvin> = "A/K";
template <>
inline constexpr const char* unit_symbol<capacitance> = "F";
template <>
inline constexpr const char* unit_symbol<power> = "W";

}  // namespace plumbline::inline v0
