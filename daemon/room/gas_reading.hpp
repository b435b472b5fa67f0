#pragma once

#include <optional>

#include "config/settings.hpp"
#include "daemon/room/ambient.hpp"

namespace oxherd::daemon {

/// What one gas sensor says now, ready for record and alarm.
struct GasReading {
  std::optional<compensation::OxygenReading> oxygen; ///< absent when bad
  std::optional<Uncertain<WetFraction>> carbon_dioxide;
  std::optional<double> raw_V;
  Monotonic taken{0};   ///< when its last usable sample was taken
  bool awaited = false; ///< just started: its first sample may still come, so it is not yet a fault that votes
  alarms::Status status = alarms::Status::failure;
  std::vector<alarms::Reason> reasons;
  /// What the life of the cell holds against it (a calibration overdue, a cell spent): part of the status, and of the
  /// inputs' other reasons, so not among `reasons`.
  std::vector<alarms::Reason> cell_reasons;
  SharedInputs inputs; ///< of an oxygen reading
};

/// Oxygen from a cell's signal or a transmitter's fraction. A signal at or near zero is "dead cell or no oxygen": both
/// explanations stand, so the value is kept, marked out of specification, and trips a low alarm. A pure function of its
/// arguments: the live pipeline and a later re-derivation of recorded inputs give the same bits.
[[nodiscard]] GasReading oxygen_reading(const ReadingBasis& basis, const OxygenInputs& inputs, WallTime at);

/// CO2, corrected to the room's pressure and temperature when the probe does not do so itself.
[[nodiscard]] GasReading carbon_dioxide_reading(const config::Sensor& sensor, const JudgedChannel& input,
                                                const Ambient& ambient);

} // namespace oxherd::daemon
