#include "daemon/cli/check_summary.hpp"

#include <algorithm>

#include <fmt/core.h>

#include "alarms/rules/catalogue.hpp"
#include "config/hours.hpp"
#include "config/response_time.hpp"
#include "daemon/cli/check_control.hpp"
#include "daemon/cli/table.hpp"
#include "daemon/cli/text.hpp"
#include "daemon/json_text.hpp"
#include "daemon/room/channel.hpp"
#include "daemon/room/persons_unit.hpp"

namespace oxherd::daemon::cli {
namespace {

using alarms::seconds_of;
using config::AlarmQuantity;
using std::chrono::milliseconds;

std::string limit_text(AlarmQuantity quantity, double si) {
  if (quantity == AlarmQuantity::oxygen_partial_pressure) return short_number(si / 1e3, 6) + " kPa";
  if (quantity == AlarmQuantity::carbon_dioxide) return short_number(si * 1e6, 6) + " ppm";
  return short_number(si * 100.0, 6) + " %";
}

std::string_view condition_of(const config::AlarmSettings& alarm) {
  return alarms::rule_catalogue()[alarm.alarm.rule.index()].name;
}

/// What trips an alarm, in a few words.
struct WhenText {
  const config::AlarmSettings& alarm;
  [[nodiscard]] std::string number(double si) const { return limit_text(alarm.quantity, si); }
  [[nodiscard]] std::string_view what() const { return name_of(alarm.quantity); }
  static std::string_view side(alarms::Direction direction) {
    return direction == alarms::Direction::low ? "at or below" : "at or above";
  }
  static std::string time(milliseconds t) { return duration_text(seconds_of(t)); }

  std::string operator()(const alarms::Limit& r) const {
    return fmt::format("{} {} {}", what(), side(r.direction), number(r.limit));
  }
  std::string operator()(const alarms::RateOfFall& r) const {
    return fmt::format("{} falls {} per minute, over {}", what(), number(r.limit.limit), time(r.window));
  }
  std::string operator()(const alarms::TimeToLimit& r) const {
    return fmt::format("{} {} {} within {} min", what(), side(r.approached_from), number(r.reached),
                       short_number(r.limit.limit, 6));
  }
  std::string operator()(const alarms::TimeAverage& r) const {
    return fmt::format("{} over {} {} {}", what(), time(r.over), side(r.limit.direction), number(r.limit.limit));
  }
  std::string operator()(const alarms::Disagreement& r) const {
    return fmt::format("{} channels differ by {}", what(), number(r.limit.limit));
  }
  std::string operator()(const alarms::Deviation& r) const {
    return fmt::format("{} off {} by {}", what(), number(r.set_point), number(r.limit.limit));
  }
  std::string operator()(const alarms::Degraded&) const { return "a vote lacks a channel"; }
  std::string operator()(const alarms::DoorOpen&) const { return "the door is open"; }
  std::string operator()(const alarms::OutputLost&) const { return "an output fails"; }
  std::string operator()(const alarms::ControlTripped&) const { return "an interlock stops an actuator for good"; }
  std::string operator()(const alarms::NotMonitored&) const { return "the room is not monitored"; }
};

std::string deadband_text(const config::AlarmSettings& alarm) {
  const auto* limit = alarms::limit_in(alarm.alarm.rule);
  if (limit == nullptr) return "-";
  if (std::holds_alternative<alarms::TimeToLimit>(alarm.alarm.rule)) return short_number(limit->deadband, 6) + " min";
  return limit_text(alarm.quantity, limit->deadband);
}

/// In which regimes of its room it judges.
std::string in_force_text(const config::AlarmSettings& alarm) {
  std::string out;
  for (const auto regime : alarm.regimes) out += fmt::format("{}{}", out.empty() ? "" : ", ", name_of(regime));
  if (out.empty()) out = "always";
  return alarm.suppressed ? fmt::format("{}, not {}", out, config::hours_text(alarm.suppressed->hours)) : out;
}

void add_alarm(Table& table, const config::Room& room, const config::AlarmSettings& alarm) {
  const auto delays = delays_of(alarm.alarm.rule);
  const auto worst = worst_case(room, alarm);
  table.add({alarm.name, std::visit(WhenText{alarm}, alarm.alarm.rule), deadband_text(alarm),
             duration_text(seconds_of(delays.on)), duration_text(seconds_of(delays.off)), in_force_text(alarm),
             std::string{alarms::name_of(alarm.alarm.annunciation.priority)},
             alarm.alarm.annunciation.safety ? "safety" : "process", duration_text(seconds_of(worst))});
}

std::string measured_by(const config::Sensor& sensor) {
  std::string out;
  for (const auto& point : sensor.points)
    out += fmt::format("{}{}", out.empty() ? "" : ", ", config::name_of(point.measurand));
  return out;
}

std::string room_text(const config::Room& room) {
  Table sensors{2};
  sensors.add({"sensor", "measures", "bus", "unit", "every", "profile"});
  for (const auto& sensor : room.sensors)
    sensors.add({sensor.name, measured_by(sensor), sensor.bus, std::to_string(sensor.unit),
                 duration_text(seconds_of(sensor.every)), sensor.profile});
  Table table{2};
  table.add({"alarm", "when", "deadband", "on-delay", "off-delay", "in force", "priority", "class", "worst case"});
  for (const auto& alarm : room.alarms) add_alarm(table, room, alarm);
  return fmt::format("\n{} ({}), oxygen vote {}\n{}{}", room.name, config::name_of(room.regime),
                     alarms::name_of(room.oxygen_vote), sensors.text(), table.text());
}

std::string alarm_json(const config::Room& room, const config::AlarmSettings& alarm) {
  const auto* limit = alarms::limit_in(alarm.alarm.rule);
  const auto delays = delays_of(alarm.alarm.rule);
  const auto of_limit = [&](double alarms::Limit::*member) {
    return limit == nullptr ? std::optional<double>{} : std::optional{limit->*member};
  };
  JsonObject out;
  out.text("alarm", alarm.name)
      .text("quantity", name_of(alarm.quantity))
      .text("condition", condition_of(alarm))
      .text("when", std::visit(WhenText{alarm}, alarm.alarm.rule));
  if (limit == nullptr)
    out.json("direction", "null");
  else
    out.text("direction", limit->direction == alarms::Direction::low ? "low" : "high");
  std::vector<std::string> regimes;
  for (const auto regime : alarm.regimes) regimes.push_back(json_string(name_of(regime)));
  out.json("regimes", json_array(regimes));
  out.json("suppressed", alarm.suppressed ? JsonObject{}
                                                .text("hours", config::hours_text(alarm.suppressed->hours))
                                                .text("because", alarm.suppressed->because)
                                                .str()
                                          : "null");
  return out.number("limit", of_limit(&alarms::Limit::limit))
      .number("deadband", of_limit(&alarms::Limit::deadband))
      .text("unit", limit == nullptr ? "/" : unit_of(alarm))
      .number("on_delay_s", seconds_of(delays.on))
      .number("off_delay_s", seconds_of(delays.off))
      .text("priority", alarms::name_of(alarm.alarm.annunciation.priority))
      .flag("safety", alarm.alarm.annunciation.safety)
      .number("worst_case_s", seconds_of(worst_case(room, alarm)))
      .str();
}

std::string sensor_json(const config::Sensor& sensor) {
  std::vector<std::string> measured;
  for (const auto& point : sensor.points) measured.push_back(json_string(config::name_of(point.measurand)));
  return JsonObject{}
      .text("sensor", sensor.name)
      .json("measures", json_array(measured))
      .text("bus", sensor.bus)
      .integer("unit", sensor.unit)
      .number("every_s", seconds_of(sensor.every))
      .text("profile", sensor.profile)
      .str();
}

std::string ladder_text(const config::Ladder& ladder) {
  std::string out = ladder.daily_digest ? "in a daily digest:" : "";
  for (const auto& step : ladder.steps) {
    if (!ladder.daily_digest)
      out += fmt::format("{}{}", out.empty() ? "" : "; ",
                         step.after.count() == 0 ? "at once" : "after " + duration_text(seconds_of(step.after)));
    for (const auto& name : step.to) out += ' ' + name;
  }
  if (ladder.repeat_every) out += fmt::format("; again every {}", duration_text(seconds_of(*ladder.repeat_every)));
  return ladder.working_hours ? out + " (in working hours)" : out;
}

/// Who is told of what: a ladder that nobody has looked at is as good as none.
std::string people_text(const config::Settings& settings) {
  const std::string watcher =
      settings.watcher ? "" : "Nobody outside learns when Oxherd falls silent: [watcher] is missing.\n";
  if (!settings.notify) return "\nNobody is told of alarms: there is no [contact.NAME].\n" + watcher;
  Table table{2};
  for (const auto priority :
       {alarms::Priority::critical, alarms::Priority::high, alarms::Priority::medium, alarms::Priority::low})
    table.add({std::string{alarms::name_of(priority)}, ladder_text(settings.notify->ladder(priority))});
  return "\nTold of alarms, until somebody acknowledges; safety alarms wait neither for hours nor for a digest\n" +
         table.text() + watcher;
}

std::string broker_words(const config::Settings& settings) {
  if (!settings.mqtt) return "no broker";
  const auto broker = "publishes to " + printable(settings.mqtt->broker);
  if (!settings.mqtt->sparkplug) return broker;
  return fmt::format("{}, as Sparkplug B in the group {} too", broker, printable(settings.mqtt->sparkplug->group));
}

} // namespace

milliseconds worst_case(const config::Room& room, const config::AlarmSettings& alarm) {
  if (const auto from_gas = config::time_to_announce(room, alarm)) return *from_gas;
  milliseconds slowest_poll{0};
  for (const auto& sensor : room.sensors) slowest_poll = std::max(slowest_poll, sensor.every);
  return permitted_age(slowest_poll) + delays_of(alarm.alarm.rule).on + config::evaluation_tick;
}

std::string summary_text(const config::Settings& settings) {
  std::size_t sensors = 0;
  std::size_t alarm_count = 0;
  for (const auto& room : settings.rooms) {
    sensors += room.sensors.size();
    alarm_count += room.alarms.size();
  }
  std::string out = fmt::format("site {}, {} m above sea level: {}, {}, {}, {}; {}\n", settings.site.name,
                                short_number(settings.site.elevation.si(), 6), counted(settings.rooms.size(), "room"),
                                counted(sensors, "sensor"), counted(alarm_count, "alarm"),
                                counted(settings.outputs.size(), "output"), broker_words(settings));
  for (const auto& room : settings.rooms) out += room_text(room) + control_summary_text(settings, room);
  return out + people_text(settings) +
         "\nWorst case: from gas at the cell to the announcement, with 20 s response of the cell (t90, assumed), the\n"
         "slowest poll, the window of a rate, the on-delay and 0.5 s for the evaluation. For a room that is not\n"
         "monitored, a lost channel and an average: from the last good sample.\n";
}

std::string summary_json(const config::Settings& settings) {
  std::vector<std::string> rooms;
  for (const auto& room : settings.rooms) {
    std::vector<std::string> sensors, alarm_list;
    for (const auto& sensor : room.sensors) sensors.push_back(sensor_json(sensor));
    for (const auto& alarm : room.alarms) alarm_list.push_back(alarm_json(room, alarm));
    rooms.push_back(JsonObject{}
                        .text("room", room.name)
                        .text("regime", config::name_of(room.regime))
                        .text("oxygen_vote", alarms::name_of(room.oxygen_vote))
                        .json("sensors", json_array(sensors))
                        .json("alarms", json_array(alarm_list))
                        .json("control", control_summary_json(settings, room))
                        .str());
  }
  return json_array(rooms);
}

} // namespace oxherd::daemon::cli
