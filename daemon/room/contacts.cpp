#include "daemon/room/contacts.hpp"

#include <fmt/core.h>

#include "config/measurands.hpp"

namespace oxherd::daemon {

bool has_missed(const SensorState& sensor) { return sensor.error.has_value(); }

ContactsFound contacts_of(const config::Room& room, const std::vector<SensorState>& sensors,
                          config::Measurand measurand, Monotonic now) {
  ContactsFound found;
  for (std::size_t s = 0; s < room.sensors.size(); ++s) {
    const auto point = point_of(room.sensors[s], measurand);
    if (!point) continue;
    const auto judged = judge(room.sensors[s], sensors[s], *point, now);
    if (judged.si && has_missed(sensors[s])) {
      if (found.is == ContactsFound::State::unknown) continue;
      found.is = ContactsFound::State::missed;
      found.trouble = fmt::format("{}: {}", room.sensors[s].name, sensors[s].error->detail);
      continue;
    }
    if (judged.si && *judged.si != 0.0) return {ContactsFound::State::yes, {}};
    if (judged.si) {
      if (found.is == ContactsFound::State::not_fitted) found.is = ContactsFound::State::no;
      continue;
    }
    found.is = ContactsFound::State::unknown;
    found.trouble = fmt::format("{}: {}", room.sensors[s].name, cause_of(judged));
  }
  return found;
}

} // namespace oxherd::daemon
