#pragma once

#include <tl/expected.hpp>

#include "compensation/calibration_line.hpp"

namespace oxherd::compensation {

/// A cell with its calibration, checked once, its line computed: for many readings by one calibration. Copies are
/// independent of each other. When the calibration or, for a Nernst cell, the reference air changes, prepare anew.
/// @checked tests/compensation/prepared_cell_test.cpp: bit for bit the results of read_oxygen
class PreparedCell {
public:
  /// @return ReadingError as read_oxygen would give for the same cell and calibration
  [[nodiscard]] static tl::expected<PreparedCell, ReadingError> from(Cell cell, const Calibration& calibration);

  /// The reading that read_oxygen gives.
  [[nodiscard]] tl::expected<OxygenReading, ReadingError> read(Uncertain<Signal> signal, const GasConditions& gas,
                                                               const SignalErrors& errors = {}) const;

  [[nodiscard]] const Cell& cell() const { return cell_; }
  [[nodiscard]] const Calibration& calibration() const { return calibration_; }
  [[nodiscard]] const CalibrationLine& line() const { return line_; }
  /// The gas of the span point with the reference side as it is now: what the surroundings of a reading start from.
  [[nodiscard]] const Surroundings& span_gas_now() const { return span_gas_now_; }

private:
  PreparedCell(Cell cell, const Calibration& calibration, const CalibrationLine& line,
               const Surroundings& span_gas_now);

  Cell cell_;
  Calibration calibration_;
  CalibrationLine line_;
  Surroundings span_gas_now_;
};

} // namespace oxherd::compensation
