#include "daemon/room/gas_reading.hpp"

#include <fmt/core.h>

#include "compensation/oxygen_reading.hpp"
#include "daemon/signal_errors.hpp"

namespace oxherd::daemon {
namespace {

using alarms::Reason;
using alarms::Status;

/// Ten identical zeros: no live input is that quiet (trade practice of the project).
constexpr int zeros_of_a_short = 10;
void note_dead_cell(const config::CellSettings& cell, const compensation::Calibration& calibration,
                    const OxygenInputs& inputs, std::vector<Reason>& reasons) {
  if (*inputs.si > calibration.zero.value.si() + cell.dead_below.si()) return;
  reasons.push_back({Status::out_of_specification, "signal near zero: dead cell, or no oxygen"});
  if (inputs.zeros_in_a_row >= zeros_of_a_short)
    reasons.push_back({Status::maintenance_required, "exactly zero without noise: shorted cell, or no oxygen"});
}

/// Ambient inputs that were lost make the reading uncertain, not bad: it is used, with a wider uncertainty.
void finish(GasReading& reading, const std::vector<Reason>& gas_reasons) {
  reading.reasons.insert(reading.reasons.end(), gas_reasons.begin(), gas_reasons.end());
  reading.status = alarms::gravest(reading.reasons);
}

} // namespace

GasReading oxygen_reading(const ReadingBasis& basis, const OxygenInputs& inputs, WallTime at) {
  GasReading reading;
  reading.reasons = inputs.signal_reasons;
  if (!inputs.si) {
    reading.status = alarms::gravest(reading.reasons);
    if (alarms::quality_of(reading.status) != alarms::Quality::bad) reading.status = Status::failure;
    return reading;
  }
  tl::expected<compensation::OxygenReading, compensation::ReadingError> oxygen =
      tl::unexpected(compensation::ReadingError{"not calibrated: calibrate this cell before relying on it"});
  if (!basis.cell) {
    oxygen =
        compensation::from_fraction({DryFraction::from_si(*inputs.si), inputs.u_si}, basis.reports_dry, inputs.gas);
  } else {
    reading.raw_V = inputs.si;
    if (basis.calibration) {
      const auto& in_force = basis.calibration->calibration;
      const auto age = at - basis.calibration->at.value_or(at);
      oxygen = compensation::read_oxygen(basis.cell->cell, in_force, {Signal::from_si(*inputs.si), inputs.u_si},
                                         inputs.gas, signal_errors(*basis.cell, age));
      if (basis.cell->cell.model != compensation::CellModel::nernst)
        note_dead_cell(*basis.cell, in_force, inputs, reading.reasons);
    }
  }
  if (!oxygen) {
    reading.reasons.push_back({Status::failure, oxygen.error().what});
    reading.status = Status::failure;
    return reading;
  }
  reading.oxygen = *oxygen;
  finish(reading, inputs.gas_reasons);
  return reading;
}

GasReading carbon_dioxide_reading(const config::Sensor& sensor, const JudgedChannel& input, const Ambient& ambient) {
  GasReading reading;
  reading.reasons = input.reasons;
  reading.status = input.status;
  if (!input.si) return reading;
  const Uncertain<WetFraction> indicated{WetFraction::from_si(*input.si), input.u_si};
  if (!sensor.ndir) {
    reading.carbon_dioxide = indicated;
    return reading;
  }
  const auto corrected = compensation::correct_ndir(indicated, *sensor.ndir, ambient.gas);
  if (!corrected) {
    reading.reasons.push_back({Status::failure, corrected.error().what});
    reading.status = Status::failure;
    return reading;
  }
  reading.carbon_dioxide = *corrected;
  finish(reading, ambient.reasons);
  return reading;
}

} // namespace oxherd::daemon
