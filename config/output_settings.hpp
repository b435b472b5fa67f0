#pragma once

#include <chrono>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "config/control_settings.hpp"
#include "drivers/register_map.hpp"

namespace oxherd::config {

/// kind = "alarm-relay": coil on = healthy, off = trip.
struct AlarmRelay {
  std::string room;
  std::uint16_t coil = 0;
};
/// kind = "heartbeat": a register that counts completed evaluations.
struct Heartbeat {
  std::uint16_t holding_register = 0;
};
/// kind = "sounder": energised to sound, so that its loss is silent. A coil is switched in the pattern; a register
/// takes the number of the pattern (alarms::Sound, from 0 for off) of a device that makes it by itself.
struct Sounder {
  std::vector<std::string> rooms; ///< that it warns of; empty: all
  WrittenAt at;
};
/// kind = "beacon": as a sounder, with light (alarms::Light).
struct Beacon {
  std::vector<std::string> rooms;
  WrittenAt at;
};

/// What a display beside a door may show of a room.
enum class ShownQuantity {
  oxygen,             ///< dry-basis fraction
  oxygen_lower_bound, ///< the same less its expanded uncertainty
  carbon_dioxide
};
/// kind = "reading": a value in one holding register, scaled, or in two as float32.
struct RoomReading {
  std::string room;
  ShownQuantity quantity = ShownQuantity::oxygen;
  std::uint16_t holding_register = 0;
  bool is_float = false; ///< of two registers, in per cent (oxygen) or ppm (carbon dioxide); a bad value is NaN
  drivers::ByteOrder order = drivers::ByteOrder::abcd;
  double from = 0.0, to = 0.25; ///< ratios that 0 and 65535 stand for; a value beyond is shown as that end
  std::uint16_t when_bad = 0;   ///< what one register holds when there is no value
};
/// kind = "alarm-state": a holding register with the number of the gravest state of a room or of one alarm of it, in
/// the order of alarms::State, 0 for normal.
struct AlarmStateNumber {
  std::string room;
  std::optional<std::string> alarm;
  std::uint16_t holding_register = 0;
};
/// kind = "entry-lock": coil on = the lock of the room's door is not withheld from those outside. Off is withheld, so
/// that whatever fails withholds it. It must never keep anybody in.
struct EntryLockRelay {
  std::string room;
  std::uint16_t coil = 0;
};
using OutputKind =
    std::variant<AlarmRelay, Heartbeat, Sounder, Beacon, RoomReading, AlarmStateNumber, EntryLockRelay, Actuator>;

/// A contact of its own that follows a coil: proof that what it switches has moved.
struct Feedback {
  int unit = 1;
  drivers::Table table = drivers::Table::discrete_input; ///< a register counts as on when it is not 0
  std::uint16_t address = 0;
  std::chrono::milliseconds stroke{0}; ///< how long the contact may take to follow
};

/// [output.NAME]
struct Output {
  std::string name;
  std::string bus;
  int unit = 1;
  std::chrono::milliseconds every{1000}; ///< written again at least this often, so that the module's watchdog can tell
  OutputKind kind;
  /// How long it may be without the device's confirmation before it counts as lost: stroke + 2 s (proposal).
  std::chrono::milliseconds confirm_within{2000};
  std::optional<Feedback> feedback{};
  std::optional<std::chrono::days> prove_every{}; ///< empty: never asked for
};

[[nodiscard]] std::string_view name_of_kind(const OutputKind& kind); ///< as in the file: "alarm-relay", ...
[[nodiscard]] WrittenAt written_at(const OutputKind& kind);
[[nodiscard]] int words_of(const OutputKind& kind); ///< how many registers it takes, 1 for a coil
/// The rooms that it names, the one first that answers for it; empty: all of the site.
[[nodiscard]] std::vector<std::string> rooms_of(const OutputKind& kind);
/// Whether it is there to warn a person, and can be driven to do so and be seen.
[[nodiscard]] bool is_provable(const OutputKind& kind);
/// What it is left holding when nobody watches from now on: a relay is off, so that it trips, and so is a lock, an
/// actuator is in its safe state. Empty: it is left as it is.
/// @param people_may_be_in  in the first of its rooms
[[nodiscard]] std::optional<std::uint32_t> value_at_rest(const OutputKind& kind, bool people_may_be_in);
/// Null where there is no actuator of that name.
[[nodiscard]] const Actuator* actuator_named(const std::vector<Output>& outputs, std::string_view name);
/// What an actuator's coil or register holds at this output, 0 to 1; more than a half switches a coil on.
[[nodiscard]] std::uint32_t value_of(const Actuator& actuator, double output);
/// Whether the room answers for it: the first that it names, or the first of the site.
[[nodiscard]] bool answers_for(const std::string& room, bool first_of_site, const OutputKind& kind);

} // namespace oxherd::config
