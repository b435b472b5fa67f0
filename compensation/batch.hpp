#pragma once

#include <cstddef>
#include <cstdint>
#include <span>

#include "compensation/prepared_cell.hpp"

namespace oxherd::compensation {

/// Recorded inputs of many readings, in SI units and of equal length. One thermometer serves cell and humidity probe.
struct BatchColumns {
  std::span<const double> signal_V;
  std::span<const double> temperature_K;
  std::span<const double> humidity; ///< relative, over water, as a ratio
  std::span<const double> pressure_Pa;
};

/// The dry fractions of many readings of one cell, without uncertainty: for history and simulation.
/// @param dry    takes the dry fraction of each row; 0 where the row is not valid, so never NaN
/// @param valid  takes 1 where read_oxygen would give a reading of the same row (with all u = 0), otherwise 0
/// @return the number of valid rows
/// All spans must have the length of the signals: another length is a mistake of the caller and stops the program.
/// @checked tests/compensation/batch_test.cpp: the fractions of read_oxygen
std::size_t read_batch(const PreparedCell& cell, const BatchColumns& rows, std::span<double> dry,
                       std::span<std::uint8_t> valid);

/// One input of many readings with its standard uncertainty in each, in SI.
struct UncertainColumn {
  std::span<const double> value;
  std::span<const double> u;
};

/// Inputs of many readings with their uncertainties, all of equal length.
struct UncertainColumns {
  UncertainColumn signal_V;
  UncertainColumn temperature_K;
  UncertainColumn humidity; ///< relative, over water, as a ratio
  UncertainColumn probe_K;  ///< of the humidity probe; empty: one thermometer serves cell and probe
  UncertainColumn pressure_Pa;
};

/// Where the readings go, in SI; what is wanted of OxygenReading, under the same names. 0 in a row that is not valid.
struct ReadingColumns {
  std::span<double> dry, u_dry;
  std::span<double> wet, u_wet;
  std::span<double> po2_Pa, u_po2_Pa;
  std::span<double> uncorrected;
  std::span<double> vapour_Pa;
  std::span<std::uint8_t> valid; ///< 1 where PreparedCell::read would give a reading of the same row, otherwise 0
};

/// Many readings of one cell, with their standard uncertainties.
/// @param errors  of every signal alike
/// @return the number of valid rows
/// All spans must have the length of the signals, those of the probe may be empty: another length is a mistake of the
/// caller and stops the program.
/// @checked tests/compensation/batch_reading_test.cpp: bit for bit the readings of PreparedCell
std::size_t read_batch(const PreparedCell& cell, const UncertainColumns& rows, const SignalErrors& errors,
                       const ReadingColumns& to);

} // namespace oxherd::compensation
