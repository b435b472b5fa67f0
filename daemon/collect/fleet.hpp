#pragma once

#include <optional>
#include <string>
#include <vector>

#include "daemon/collect/senml.hpp"

// The rooms of all sites as the page and its interface tell them. Pure.
namespace oxherd::daemon::collect {

/// What is known of a site's daemon. Times are by this machine's clock, but for `beat_at`.
struct SiteStanding {
  std::string name, status; ///< status: "online", "offline"; empty: never told
  std::optional<SampleTime> status_at, heard_at, beat_at;
};

/// The newest sample of a channel.
struct LastSample {
  std::string sensor, quantity, unit;
  SampleTime at;
  std::optional<double> value;
  std::string words;
  std::optional<int> quality;
};

/// A room as it was told last.
struct FleetRoom {
  SiteStanding site;
  std::string room, told_json;
  SampleTime heard_at;
  std::vector<std::string> alarms_json;
  std::vector<LastSample> samples; ///< by sensor
};

/// "larkfield/cryo-annexe": under this name a room stands on the page.
[[nodiscard]] std::string name_of_room(const FleetRoom& room);

/// Why nobody here can say what the room is now; empty: what was told holds.
[[nodiscard]] std::string why_not_current(const SiteStanding& site, SampleTime room_heard_at, SampleTime now);

/// The whole room as a daemon's own page has it. When it is not current it is not monitored, no value is shown, and an
/// alarm says why.
[[nodiscard]] std::string fleet_room_json(const FleetRoom& room, SampleTime now);

} // namespace oxherd::daemon::collect
