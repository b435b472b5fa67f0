#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include <tl/expected.hpp>

#include "daemon/collect/senml.hpp"

// What the messages of the sites' daemons tell (README, "MQTT"). Pure.
namespace oxherd::daemon::collect {

/// One value of one channel. A channel is a quantity of a sensor in one unit.
struct Sample {
  std::string room, sensor, quantity, unit;
  SampleTime at;
  std::optional<double> value;      ///< true and false are 1 and 0
  std::optional<std::string> words; ///< what is no number
  std::optional<int> quality;       ///< 1 good, 2 uncertain, 3 bad: as the pack says of the sensor at that time
};
struct Samples {
  std::vector<Sample> all;
  std::size_t without_use = 0; ///< left out: older than the year 2000, or more than a day ahead of this machine
};
struct Standing {
  bool online = false;
};
struct Beat {
  std::int64_t evaluations = 0;
  SampleTime at; ///< by the clock of the site
};
/// What a room or an alarm is now, as the daemon tells it in JSON; without JSON it is no more.
struct RoomNow {
  std::string room, json;
};
struct AlarmNow {
  std::string room, alarm, json;
};
/// One line of the alarm journal, an object with `sequence` and `at`.
struct JournalLine {
  std::string json;
};
struct NotOurs {}; ///< messages to people, and what other programs publish below a site

struct Told {
  std::string site;
  std::variant<Samples, Standing, Beat, RoomNow, AlarmNow, JournalLine, NotOurs> what;
};

/// Takes one message apart. The error says what is wrong with it, for the log.
/// @param now  when it came
[[nodiscard]] tl::expected<Told, std::string> take_apart(std::string_view prefix, std::string_view topic,
                                                         const std::string& payload, SampleTime now);

} // namespace oxherd::daemon::collect
