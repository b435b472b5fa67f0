#pragma once

#include <cstdint>
#include <memory>
#include <optional>
#include <vector>

#include "alarms/quality.hpp"
#include "config/settings.hpp"

namespace oxherd::daemon {

/// Civil time of a record, UTC. Never used for a delay or an age.
using WallTime = std::chrono::sys_time<std::chrono::milliseconds>;

/// The calibration in force for a cell, with its civil time when that is known.
struct ActiveCalibration {
  compensation::Calibration calibration;
  std::optional<WallTime> at;
  std::int64_t number = 0; ///< of its record; 0: it stands in the configuration
};

/// What the oxygen readings of one sensor rest on besides their inputs. Stays the same for weeks; shared by thousands
/// of readings.
struct ReadingBasis {
  config::Seldom<config::CellSettings> cell; ///< absent: a transmitter that reports a fraction itself
  bool reports_dry = false;                  ///< transmitters: the basis they report on
  std::optional<ActiveCalibration> calibration;
  /// Where the ambient inputs come from: "cryo-annexe/air", "standard atmosphere (ISO 2533) at 212 m", ...
  std::string temperature_from, humidity_from, pressure_from;
};

/// Everything that one oxygen reading was formed from: enough to explain it, and to form it anew with another basis.
struct OxygenInputs {
  std::optional<double> si; ///< the cell's signal in volt, or a transmitter's fraction; absent when it is bad
  double u_si = 0.0;        ///< standard uncertainty of `si`
  int zeros_in_a_row = 0;   ///< raw values of exactly zero up to this one
  compensation::GasConditions gas;
  std::vector<alarms::Reason> signal_reasons; ///< what is wrong with the signal or its device
  std::vector<alarms::Reason> gas_reasons;    ///< what is wrong with the ambient inputs
  /// What is wrong with other points that the same sensor measures, and what the life of its cell holds against it.
  std::vector<alarms::Reason> other_reasons;
};

using SharedBasis = std::shared_ptr<const ReadingBasis>;
using SharedInputs = std::shared_ptr<const OxygenInputs>;

} // namespace oxherd::daemon
