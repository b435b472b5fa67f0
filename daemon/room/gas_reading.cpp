#include "daemon/room/gas_reading.hpp"

#include <cmath>

#include <fmt/core.h>

#include "compensation/oxygen_reading.hpp"

namespace oxherd::daemon {
namespace {

using alarms::Reason;
using alarms::Status;

/// Ten identical zeros: no live input is that quiet (trade practice of the project).
constexpr int zeros_of_a_short = 10;
/// A month of 30.4375 days, for drift that is stated per month.
using Months = std::chrono::duration<double, std::ratio<2629800>>;

/// Sensitivity may have drifted since the calibration, in either direction for all we know: rectangular (GUM 4.3.7),
/// entered through the calibration signal on which the sensitivity rests.
compensation::Calibration widened_by_drift(const config::CellSettings& cell, const ActiveCalibration& active,
                                           WallTime wall) {
  compensation::Calibration widened = active.calibration;
  if (!active.at || wall <= *active.at) return widened;
  const double drift = cell.drift_per_month * Months{wall - *active.at}.count() / std::sqrt(3.0);
  const double span_V = widened.span.signal.value.si() - widened.zero.value.si();
  widened.span.signal.u_si = std::hypot(widened.span.signal.u_si, drift * span_V);
  return widened;
}

void note_dead_cell(const config::CellSettings& cell, const compensation::Calibration& calibration, double signal_V,
                    const ChannelState* state, std::vector<Reason>& reasons) {
  if (signal_V > calibration.zero.value.si() + cell.dead_below.si()) return;
  reasons.push_back({Status::out_of_specification, "signal near zero: dead cell, or no oxygen"});
  if (state && state->zeros_in_a_row >= zeros_of_a_short)
    reasons.push_back({Status::maintenance_required, "exactly zero without noise: shorted cell, or no oxygen"});
}

/// Ambient inputs that were lost make the reading uncertain, not bad: it is used, with a wider uncertainty.
void finish(GasReading& reading, const Ambient& ambient) {
  reading.reasons.insert(reading.reasons.end(), ambient.reasons.begin(), ambient.reasons.end());
  reading.status = alarms::gravest(reading.reasons);
}

} // namespace

GasReading oxygen_reading(const config::Sensor& sensor, const JudgedChannel& input, const ChannelState* state,
                          const std::optional<ActiveCalibration>& calibration, const Ambient& ambient, WallTime wall) {
  GasReading reading;
  reading.reasons = input.reasons;
  reading.status = input.status;
  if (!input.si) return reading;
  tl::expected<compensation::OxygenReading, compensation::ReadingError> oxygen =
      tl::unexpected(compensation::ReadingError{"not calibrated: calibrate this cell before relying on it"});
  if (!sensor.cell) {
    oxygen =
        compensation::from_fraction({DryFraction::from_si(*input.si), input.u_si}, sensor.reports_dry, ambient.gas);
  } else {
    reading.raw_V = input.si;
    if (calibration) {
      const auto in_force = widened_by_drift(*sensor.cell, *calibration, wall);
      oxygen =
          compensation::read_oxygen(sensor.cell->cell, in_force, {Signal::from_si(*input.si), input.u_si}, ambient.gas);
      if (sensor.cell->cell.model != compensation::CellModel::nernst)
        note_dead_cell(*sensor.cell, in_force, *input.si, state, reading.reasons);
    }
  }
  if (!oxygen) {
    reading.reasons.push_back({Status::failure, oxygen.error().what});
    reading.status = Status::failure;
    return reading;
  }
  reading.oxygen = *oxygen;
  finish(reading, ambient);
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
  finish(reading, ambient);
  return reading;
}

} // namespace oxherd::daemon
