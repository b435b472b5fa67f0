#include "daemon/rehearse/fitting.hpp"

#include <algorithm>

#include <fmt/format.h>

namespace oxherd::daemon::rehearse {
namespace {

using alarms::Scheme;
using config::AlarmQuantity;
using config::Measurand;

bool is_of(const config::AlarmSettings& alarm, Measurand gas) {
  const bool of_co2 = alarm.quantity == AlarmQuantity::carbon_dioxide;
  return alarm.quantity != AlarmQuantity::monitoring && alarm.quantity != AlarmQuantity::door &&
         of_co2 == (gas == Measurand::carbon_dioxide);
}

void leave_out(config::Room& room, std::vector<std::string>& said, std::string_view why, auto&& which) {
  std::vector<std::string> names;
  for (const auto& alarm : room.alarms)
    if (which(alarm)) names.push_back(alarm.name);
  std::erase_if(room.alarms, which);
  if (!names.empty()) said.push_back(fmt::format("{}: not rehearsed: {} ({})", room.name, fmt::join(names, ", "), why));
}

/// Makes the vote of one gas fit the channels there are.
tl::expected<void, std::string> fit_vote(config::Room& room, Measurand gas, std::size_t n, const std::string& rules,
                                         std::vector<std::string>& said) {
  Scheme& scheme = gas == Measurand::oxygen ? room.oxygen_vote : room.carbon_dioxide_vote;
  const auto name = config::name_of(gas);
  if (n == 0) {
    scheme = Scheme::one_of_one;
    leave_out(room, said, fmt::format("the data has no {}", name), [&](const auto& a) { return is_of(a, gas); });
    return {};
  }
  const auto voters = static_cast<std::size_t>(alarms::channels_of(scheme));
  if (n == voters) return {};
  if (n > 1)
    return tl::unexpected(fmt::format(
        "{}: room {} votes {} of {} {} channel{}, and the data has {}: give {} of them, or state the vote in the rules",
        rules, room.name, alarms::name_of(scheme), voters, name, voters == 1 ? "" : "s", n, voters));
  said.push_back(fmt::format("{}: its {} vote is {}, but the data has one channel: rehearsed as 1oo1", room.name, name,
                             alarms::name_of(scheme)));
  scheme = Scheme::one_of_one;
  leave_out(room, said, "one channel has nothing to disagree with",
            [&](const auto& a) { return is_of(a, gas) && std::holds_alternative<alarms::Disagreement>(a.alarm.rule); });
  return {};
}

} // namespace

tl::expected<FittedRoom, std::string> fit_room(const config::Room& room, const std::string& rules,
                                               const std::vector<DataChannel>& channels) {
  FittedRoom fitted{room, {}};
  fitted.room.sensors.clear();
  for (const auto& channel : channels) {
    config::Sensor sensor;
    if (const auto* known = sensor_named(room, channel.sensor); known != nullptr && gas_of(*known) == channel.gas)
      sensor = *known;
    sensor.name = channel.sensor;
    sensor.every = channel.every;
    sensor.points = {{channel.gas, 0.0}};
    fitted.room.sensors.push_back(std::move(sensor));
  }
  for (const auto gas : {Measurand::oxygen, Measurand::carbon_dioxide}) {
    const auto n = std::count_if(channels.begin(), channels.end(), [&](const auto& c) { return c.gas == gas; });
    const auto fits = fit_vote(fitted.room, gas, static_cast<std::size_t>(n), rules, fitted.said);
    if (!fits) return tl::unexpected(fits.error());
  }
  leave_out(fitted.room, fitted.said, "readings tell nothing of outputs and doors", [](const auto& a) {
    return std::holds_alternative<alarms::OutputLost>(a.alarm.rule) ||
           std::holds_alternative<alarms::ControlTripped>(a.alarm.rule) ||
           std::holds_alternative<alarms::DoorOpen>(a.alarm.rule);
  });
  if (!std::all_of(channels.begin(), channels.end(),
                   [](const auto& c) { return c.gas != Measurand::oxygen || c.has_po2; }))
    leave_out(fitted.room, fitted.said, "the data has no partial pressure of oxygen",
              [](const auto& a) { return a.quantity == AlarmQuantity::oxygen_partial_pressure; });
  return fitted;
}

const config::Sensor* sensor_named(const config::Room& room, std::string_view name) {
  const auto found =
      std::find_if(room.sensors.begin(), room.sensors.end(), [&](const auto& sensor) { return sensor.name == name; });
  return found == room.sensors.end() ? nullptr : &*found;
}

bool has_gas_sensors(const config::Room& room) {
  return std::any_of(room.sensors.begin(), room.sensors.end(), [](const auto& s) { return gas_of(s).has_value(); });
}

std::string only_sensor_for(const std::vector<config::Room>& rooms, std::string_view room, Measurand gas) {
  const auto* known = config::room_named(rooms, room);
  const config::Sensor* only = nullptr;
  if (known != nullptr)
    for (const auto& sensor : known->sensors) {
      if (gas_of(sensor) != gas) continue;
      if (only != nullptr) return std::string{config::name_of(gas)};
      only = &sensor;
    }
  return only != nullptr ? only->name : std::string{config::name_of(gas)};
}

double stated_u(const std::vector<config::Room>& rooms, const DataChannel& channel) {
  const auto* room = config::room_named(rooms, channel.room);
  const auto* sensor = room != nullptr ? sensor_named(*room, channel.sensor) : nullptr;
  if (sensor == nullptr || sensor->cell) return 0.0; // a cell's own is that of its signal
  for (const auto& point : sensor->points)
    if (point.measurand == channel.gas) return point.u_si;
  return 0.0;
}

std::size_t place_of_sensor(const std::vector<config::Room>& rooms, const DataChannel& channel) {
  const auto* room = config::room_named(rooms, channel.room);
  if (room == nullptr) return 0;
  const auto* sensor = sensor_named(*room, channel.sensor);
  return sensor == nullptr ? room->sensors.size() : static_cast<std::size_t>(sensor - room->sensors.data());
}

std::optional<std::chrono::milliseconds> middle_step(const std::vector<WallTime>& times) {
  std::vector<std::chrono::milliseconds> steps;
  for (std::size_t i = 1; i < times.size(); ++i)
    if (times[i] > times[i - 1]) steps.push_back(times[i] - times[i - 1]);
  if (steps.empty()) return std::nullopt;
  const auto middle = steps.begin() + static_cast<std::ptrdiff_t>(steps.size() / 2);
  std::nth_element(steps.begin(), middle, steps.end());
  return *middle;
}

std::chrono::milliseconds likely_period(std::chrono::milliseconds by_the_rules,
                                        std::optional<std::chrono::milliseconds> found) {
  if (!found) return by_the_rules;
  const auto apart = *found > by_the_rules ? *found - by_the_rules : by_the_rules - *found;
  return apart * 10 <= by_the_rules ? by_the_rules : *found;
}

} // namespace oxherd::daemon::rehearse
