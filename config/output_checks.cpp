#include <map>
#include <tuple>

#include <fmt/core.h>

#include "config/cross_checks.hpp"
#include "config/nearest.hpp"

namespace oxherd::config {
namespace {

void check_output_rooms(const Settings& settings, const Output& output, Reporter& report) {
  std::vector<std::string> rooms;
  for (const auto& room : settings.rooms) rooms.push_back(room.name);
  const bool several = report.has({"output", output.name, "rooms"});
  for (const auto& named : rooms_of(output.kind)) {
    if (named.empty() || std::find(rooms.begin(), rooms.end(), named) != rooms.end()) continue;
    report.error({"output", output.name, several ? "rooms" : "room"},
                 rooms.empty()
                     ? fmt::format("there is no room \"{}\"", named)
                     : fmt::format("there is no room \"{}\"; there is {}", named, listed_nearest_first(named, rooms)));
  }
}

void check_named_alarm(const Settings& settings, const Output& output, Reporter& report) {
  const auto* number = std::get_if<AlarmStateNumber>(&output.kind);
  const Room* room = number != nullptr ? room_named(settings.rooms, number->room) : nullptr;
  if (room == nullptr || !number->alarm || report.is_broken({"room", room->name, "alarm"})) return;
  std::vector<std::string> names;
  for (const auto& alarm : room->alarms) names.push_back(alarm.name);
  if (std::find(names.begin(), names.end(), *number->alarm) != names.end()) return;
  report.error({"output", output.name, "alarm"},
               fmt::format("there is no alarm \"{}\" in {}; there is {}", *number->alarm, room->name,
                           listed_nearest_first(*number->alarm, names)));
}

void check_shown_quantity(const Settings& settings, const Output& output, Reporter& report) {
  const auto* reading = std::get_if<RoomReading>(&output.kind);
  const Room* room = reading != nullptr ? room_named(settings.rooms, reading->room) : nullptr;
  if (room == nullptr || report.is_broken({"room", room->name, "sensor"})) return;
  const auto measurand =
      reading->quantity == ShownQuantity::carbon_dioxide ? Measurand::carbon_dioxide : Measurand::oxygen;
  if (channels(*room, measurand) > 0) return;
  report.error({"output", output.name, "quantity"},
               fmt::format("the room has no sensor that measures \"{}\"", name_of(measurand)));
}

void check_lock(const Settings& settings, const Output& output, Reporter& report) {
  const auto* lock = std::get_if<EntryLockRelay>(&output.kind);
  const Room* room = lock != nullptr ? room_named(settings.rooms, lock->room) : nullptr;
  if (room == nullptr || room->entry_lock || report.is_broken({"room", room->name, "entry_lock"})) return;
  report.error({"output", output.name, "room"},
               fmt::format("{} has no entry_lock: say there when it is withheld, for example entry_lock = {{ hold = "
                           "\"15 min\" }}",
                           room->name));
}

/// Two outputs on one coil would undo each other: the healthy one would hold up the relay of the room in alarm.
void check_shared_outputs(const Settings& settings, Reporter& report) {
  std::map<std::tuple<std::string, int, bool, int>, std::string> first;
  for (const auto& output : settings.outputs) {
    if (report.is_broken({"output", output.name})) continue;
    const auto at = written_at(output.kind);
    const std::string_view key = at.is_coil ? "coil" : "register";
    for (int i = 0; i < words_of(output.kind); ++i) {
      const int address = at.address + i;
      const auto [place, fresh] = first.try_emplace({output.bus, output.unit, at.is_coil, address}, output.name);
      if (!fresh)
        report.error({"output", output.name, key},
                     fmt::format("{} {} of unit {} on bus \"{}\" is written by output \"{}\" already", key, address,
                                 output.unit, output.bus, place->second));
    }
  }
}

} // namespace

void check_outputs(const Settings& settings, Reporter& report) {
  for (const auto& output : settings.outputs) {
    check_output_rooms(settings, output, report);
    check_named_alarm(settings, output, report);
    check_lock(settings, output, report);
    check_shown_quantity(settings, output, report);
  }
  check_shared_outputs(settings, report);
}

} // namespace oxherd::config
