#pragma once

#include <string>
#include <vector>

#include "config/settings.hpp"
#include "daemon/room/channel.hpp"

namespace oxherd::daemon {

/// Whether the last poll of a sensor failed, after its retries. What people are warned by waits until the sample is too
/// old; a gas does not.
[[nodiscard]] bool has_missed(const SensorState& sensor);

/// What is known of a contact, or of all of that kind: `is` of one that is in the state it is named after.
struct ContactsFound {
  enum class State { not_fitted, yes, no, unknown, missed };
  State is = State::not_fitted;
  std::string trouble; ///< why unknown, or missed: its last poll failed, and it is not lost yet
};
/// One in that state is enough; one that cannot be read leaves it unknown, unless another says so already.
[[nodiscard]] ContactsFound contacts_of(const config::Room& room, const std::vector<SensorState>& sensors,
                                        config::Measurand measurand, Monotonic now);

} // namespace oxherd::daemon
