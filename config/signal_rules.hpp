#pragma once

#include <string>
#include <string_view>

#include "config/table_reader.hpp"

namespace oxherd::config {

/// What the signal of a cell is, wherever it is read or typed.
enum class SignalUnit {
  volts,
  /// An indicated oxygen, as a transmitter reports it: a ratio in proportion to the cell's signal, right only at the
  /// conditions of its calibration. It goes where volts go; the equations are the same in either unit.
  indicated_fraction
};

/// Spans, defaults and words for the signals in the tables of a cell and of its calibration. All numbers are in SI:
/// volt or ratio.
struct SignalRules {
  QuantityRule signal, zero, uncertainty, dead, step;
  double u_signal_si = 0.0;                   ///< of a point of a calibration that states none
  double u_stated_zero_si = 0.0;              ///< of a zero from the data sheet
  double u_unknown_zero_si = 0.0;             ///< of a zero that nobody states
  double dead_below_si = 0.0;                 ///< at or below zero + this: dead cell or no oxygen
  std::string_view span_example, low_example; ///< in quotes, as a person types them
  std::string_view air_example;               ///< likewise, for what a new cell gives in air
  std::string_view unit;
  double shown_per_si = 1.0;
  [[nodiscard]] std::string shown(double si) const; ///< "12.6 mV"
};
[[nodiscard]] const SignalRules& signal_rules(SignalUnit unit);

} // namespace oxherd::config
