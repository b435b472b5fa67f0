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

} // namespace oxherd::compensation
