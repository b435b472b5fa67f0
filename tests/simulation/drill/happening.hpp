#pragma once

#include <cmath>
#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "alarms/time.hpp"
#include "tests/simulation/drill/chance.hpp"

namespace oxherd::drill {

using alarms::Monotonic;

[[nodiscard]] inline Monotonic ms_of(double seconds) { return Monotonic{std::llround(seconds * 1e3)}; }

/// What can befall a site. A row of `facts_of` in happening.cpp goes with each.
enum class Kind {
  leak,                 ///< nitrogen comes into the room
  airing,               ///< doors stand open
  sensor_silent,        ///< one device does not answer
  bus_out,              ///< the cable of a room's bus is out
  gateway_silent,       ///< it takes the request and never answers, so that polls also come late
  thread_stuck,         ///< the bus thread hangs in the system: nothing comes at all
  reboot,               ///< of one device: silence, then "no value", then values
  exceptions,           ///< answers with exceptions 1 to 6, at random
  late_replies,         ///< answers come seconds later, some of them never
  bit_errors,           ///< some values are wrong, in whatever bit
  stuck,                ///< one device gives for ever what it gave last
  worn_cell,            ///< loses its sensitivity within weeks
  cell_disconnected,    ///< which its device tells by a status bit
  broker_away,          ///< no connection
  broker_silent,        ///< accepts the connection, and acknowledges nothing
  broker_flaps,         ///< connects and drops again and again
  disk_full,            ///
  disk_slow,            ///< a write takes minutes
  disk_read_only,       ///
  disk_failing,         ///< input/output errors
  database_damaged,     ///< bytes of the journal are overwritten
  killed,               ///< the daemon, and started again after a time
  power_loss,           ///< whatever was not synchronised is gone, and the monotonic clock begins anew
  clock_forward,        ///< the wall clock is stepped
  clock_back,           ///
  reload_storm,         ///< the settings are read again every few seconds
  taken_out_of_service, ///< the low alarm, by a person who says why
  // Of rooms that a gas is let into.
  door_open,      ///
  people_in,      ///< they came by the door, or otherwise
  contact_lies,   ///< a contact or the carbon dioxide probe says one and the same, whatever is so
  contact_silent, ///< it does not answer
  module_silent,  ///< the output module does not answer
  module_reboot,  ///< it drops its coil, and is silent for a while
  coil_stuck,     ///< it takes writes, and its coil stays as it is
  valve_stuck,    ///< the coil moves, the valve does not
  valve_late,     ///< it follows its coil seconds later
  seal,           ///< by a person, and to its end, when it is ventilated again
  purge           ///< a person starts it, or doses by hand, and ends it
};
inline constexpr std::size_t kinds = static_cast<std::size_t>(Kind::purge) + 1;

struct KindFacts {
  std::string_view name;
  bool of_room = false;        ///< it befalls one room, else the whole site
  bool of_sensor = false;      ///< it befalls one sensor of a room
  bool reaches_values = false; ///< what a room's alarms see may suffer from it
  bool lies = false;           ///< the values of cells or ambient probe may be untrue and look good
  double per_month = 0.0;      ///< of one room, or of the site
  double least_s = 0.0, most_s = 0.0;
  bool of_gas = false; ///< it befalls rooms only that a gas is let into
};
[[nodiscard]] const KindFacts& facts_of(Kind kind);

/// One thing of a story.
struct Happening {
  Kind kind = Kind::leak;
  Monotonic at{0}, length{0};
  std::size_t room = 0, sensor = 0;
  double size = 0.0;      ///< of a leak: where oxygen would end, fraction; of a clock: seconds; else 0 to 1
  std::uint64_t salt = 0; ///< for its own draws
  [[nodiscard]] bool holds(Monotonic now) const { return at <= now && now < at + length; }
};
[[nodiscard]] std::string to_string(const Happening& happening);

using Story = std::vector<Happening>;

/// What there is for happenings to befall.
struct Stage {
  std::vector<std::size_t> sensors; ///< of each room
  std::vector<bool> gas{};          ///< whether one is let into it
  Monotonic length{0};              ///< of the story; the last part of it stays quiet, so that all can heal
  double density = 1.0;             ///< times as many as facts_of says
};
/// In the order of their times.
[[nodiscard]] Story drawn_story(Chance& chance, const Stage& stage);

} // namespace oxherd::drill
