#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "config/settings.hpp"
#include "daemon/room/poll.hpp"
#include "daemon/room/standstill.hpp"

namespace oxherd::daemon {

/// The last word on one point of one sensor.
struct ChannelState {
  std::optional<double> si;        ///< last value that could be used; absent after a faulty one
  Monotonic at{0};                 ///< when it was sampled
  std::optional<double> last_good; ///< last value that could be used, kept through faults
  Monotonic last_good_at{0};
  int zeros_in_a_row = 0;              ///< raw values of exactly zero
  Standstill standstill;               ///< of the raw value
  std::optional<alarms::Reason> fault; ///< what was wrong with the last sample, if anything
};

struct SensorState {
  std::vector<ChannelState> channels;     ///< in the order of the sensor's points
  std::vector<alarms::Reason> status;     ///< from the device's status register at its last answer
  std::optional<drivers::BusError> error; ///< of the last poll
  std::optional<Monotonic> answered;      ///< last poll that brought anything
  Monotonic awaited_since{0};             ///< an answer; a reload does not begin it anew
  std::optional<ReadingRecord> last;      ///< last reading made from it
  std::optional<alarms::Reason> in_hand;  ///< a person works on it: function check
  std::uint64_t changes = 0;              ///< how often anything of it became different
};

/// A channel as compensation and alarms may use it now.
struct JudgedChannel {
  std::optional<double> si; ///< absent when bad
  double u_si = 0.0;
  alarms::Status status = alarms::Status::failure;
  std::vector<alarms::Reason> reasons;
};

/// How old a sample may be that is polled at this period: max(3 polls, 5 s).
[[nodiscard]] Monotonic permitted_age(std::chrono::milliseconds every);

/// Takes one poll in. A request that failed leaves the last sample to age; a sample that is there but faulty (the
/// device's "no value", NaN, outside the permitted span) replaces it at once, and so does a device that refuses.
void take(const config::Sensor& settings, SensorState& state, const Poll& poll);

/// When its last sample is too old.
[[nodiscard]] Monotonic grows_old_at(const config::Sensor& settings, const ChannelState& channel);

/// The channel at `now`: its value with the gravest status of sample, device and age.
[[nodiscard]] JudgedChannel judge(const config::Sensor& settings, const SensorState& state, std::size_t point,
                                  Monotonic now);

/// Why it is bad or doubtful, in words: the last reason, or that there is no reading.
[[nodiscard]] std::string cause_of(const JudgedChannel& judged);

/// Which point of a sensor measures this, if any.
[[nodiscard]] std::optional<std::size_t> point_of(const config::Sensor& sensor, config::Measurand measurand);

} // namespace oxherd::daemon
