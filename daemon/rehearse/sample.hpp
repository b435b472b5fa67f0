#pragma once

#include <chrono>
#include <optional>
#include <string>

#include "alarms/quality.hpp"
#include "config/settings.hpp"
#include "daemon/reading_basis.hpp"

namespace oxherd::daemon::rehearse {

/// One gas channel of the data that alarms are rehearsed over.
struct DataChannel {
  std::string room, sensor;
  config::Measurand gas = config::Measurand::oxygen; ///< oxygen or carbon_dioxide
  std::chrono::milliseconds every{1000};             ///< its period: a sample older than max(3 periods, 5 s) is bad
  bool has_po2 = false; ///< oxygen that comes with its partial pressure: a sample without it is bad
};

/// What one channel says at one time; SI, each u a standard uncertainty.
struct Sample {
  std::size_t channel = 0; ///< of those of the data
  alarms::Status status = alarms::Status::ok;
  std::optional<double> value; ///< dry oxygen or CO2, ratio; absent: bad, whatever the status says
  double u = 0.0;
  std::optional<double> po2_Pa; ///< beside a value of a channel that has it
  double u_po2_Pa = 0.0;
  std::string reason; ///< why it is not plainly good; may be empty
};

} // namespace oxherd::daemon::rehearse
