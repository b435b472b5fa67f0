#include "config/signal_rules.hpp"

#include <fmt/core.h>

#include "config/rules.hpp"

namespace oxherd::config {
namespace {

using compensation::Dimension;

// Proposals of the project. A zero from the data sheet holds for the kind of cell, not for this one; a zero nobody
// states is somewhere in the 0.1 mV to 0.5 mV that cells leave in nitrogen (common practice). The signal of a
// calibration has a 16-bit input and the noise of a settled cell.
constexpr SignalRules in_volts{
    .signal = cell_signal,
    .zero = {Dimension::voltage, -0.1, 0.1, "-100 mV to 100 mV"},
    .uncertainty = signal_uncertainty,
    .dead = {Dimension::voltage, 0.0, 0.01, "0 mV to 10 mV"},
    .step = {Dimension::voltage, 0.0, 0.01, "0 mV to 10 mV"},
    .u_signal_si = 0.02e-3,
    .u_stated_zero_si = 0.05e-3,
    .u_unknown_zero_si = 0.3e-3,
    .dead_below_si = 0.1e-3,
    .span_example = "\"12.6 mV\"",
    .low_example = "\"0.5 mV\"",
    .air_example = "[\"8 mV\", \"15 mV\"]",
    .unit = "mV",
    .shown_per_si = 1e3,
};

// The same proposals in shares of the signal in air, that of a cell of 10 mV: 0.05 mV are 0.1 % of oxygen. Only the
// signal of a calibration is worse, because a transmitter shows tenths of a percent: 0.1 %/sqrt(12) of display (GUM
// 4.3.7) and as much again for noise.
constexpr SignalRules as_fraction{
    .signal = {Dimension::ratio, -0.01, 1.01, "-1 % to 101 %"},
    .zero = {Dimension::ratio, -0.05, 0.05, "-5 % to 5 %"},
    .uncertainty = fraction_uncertainty,
    .dead = {Dimension::ratio, 0.0, 0.05, "0 % to 5 %"},
    .step = {Dimension::ratio, 0.0, 0.05, "0 % to 5 %"},
    .u_signal_si = 0.0004,
    .u_stated_zero_si = 0.001,
    .u_unknown_zero_si = 0.006,
    .dead_below_si = 0.002,
    .span_example = "\"20.9 %\"",
    .low_example = "\"1.1 %\"",
    .air_example = "[\"19 %\", \"22 %\"]",
    .unit = "%",
    .shown_per_si = 100.0,
};

} // namespace

std::string SignalRules::shown(double si) const { return fmt::format("{:g} {}", si * shown_per_si, unit); }

const SignalRules& signal_rules(SignalUnit unit) { return unit == SignalUnit::volts ? in_volts : as_fraction; }

} // namespace oxherd::config
