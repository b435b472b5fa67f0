#include <cmath>
#include <string>

#include <fmt/core.h>

#include "compensation/barometry.hpp"
#include "compensation/constants.hpp"
#include "config/alarm_defaults.hpp"
#include "config/cross_checks.hpp"
#include "config/regime_rules.hpp"
#include "config/response_time.hpp"

namespace oxherd::config {
namespace {

using alarms::Direction;
using compensation::fresh_air_oxygen;

// 29 CFR 1910.134 and 1910.146: below 19.5 % air is oxygen-deficient. 5000 ppm: the 8-hour limit of the US, UK and EU.
constexpr double occupied_oxygen_min = 0.195;
constexpr double occupied_carbon_dioxide_max = 0.005;
constexpr double rounding = 1e-9; // "19.5 %" may come out a bit below 0.195

const alarms::Limit* limit_of(const AlarmSettings& alarm) { return std::get_if<alarms::Limit>(&alarm.alarm.rule); }

Measurand measurand_of(AlarmQuantity quantity) {
  if (quantity == AlarmQuantity::door) return Measurand::door;
  return quantity == AlarmQuantity::carbon_dioxide ? Measurand::carbon_dioxide : Measurand::oxygen;
}

bool is_low_oxygen(const AlarmSettings& alarm) {
  const auto* limit = limit_of(alarm);
  return alarm.quantity == AlarmQuantity::oxygen && limit != nullptr && limit->direction == Direction::low;
}
bool is_high_carbon_dioxide(const AlarmSettings& alarm) {
  const auto* limit = limit_of(alarm);
  return alarm.quantity == AlarmQuantity::carbon_dioxide && limit != nullptr && limit->direction == Direction::high;
}
bool is_lax(const AlarmSettings& alarm) {
  if (is_low_oxygen(alarm)) return limit_of(alarm)->limit < occupied_oxygen_min - rounding;
  return is_high_carbon_dioxide(alarm) && limit_of(alarm)->limit > occupied_carbon_dioxide_max + rounding;
}
bool is_slow(const AlarmSettings& alarm) {
  return alarm.alarm.annunciation.safety && delays_of(alarm.alarm.rule).on > safety_on_delay_max;
}

std::chrono::milliseconds slowest_poll(const Room& room, const AlarmSettings& alarm) {
  std::chrono::milliseconds slowest{0};
  for (const auto& sensor : room.sensors)
    if (measures(sensor, measurand_of(alarm.quantity))) slowest = std::max(slowest, sensor.every);
  return slowest;
}

/// What a rate is formed over; nothing for a condition without one.
std::optional<std::chrono::milliseconds> window_of(const AlarmSettings& alarm) {
  if (const auto* rate = std::get_if<alarms::RateOfFall>(&alarm.alarm.rule)) return rate->window;
  if (const auto* forecast = std::get_if<alarms::TimeToLimit>(&alarm.alarm.rule)) return forecast->window;
  return std::nullopt;
}

/// Whether people rely on this alarm: in a room that can be sealed they do on those of class "safety", which are in
/// force wherever people may be.
bool guards_people(const Room& room, const AlarmSettings& alarm) {
  return room.regime == Regime::occupied || (is_sealable(room.regime) && alarm.alarm.annunciation.safety);
}

/// A second stage may be laxer when a first stage of the same kind guards the permitted limit, or one that was
/// overridden with a reason.
bool has_first_stage(const Room& room, bool (*is_kind)(const AlarmSettings&)) {
  return std::any_of(room.alarms.begin(), room.alarms.end(), [is_kind](const AlarmSettings& a) {
    return is_kind(a) && a.alarm.annunciation.safety && (!is_lax(a) || a.override_reason);
  });
}

void check_laxness(const Room& room, const AlarmSettings& alarm, Reporter& report) {
  if (!guards_people(room, alarm) || !is_lax(alarm) || alarm.override_reason) return;
  const bool oxygen = is_low_oxygen(alarm);
  if (has_first_stage(room, oxygen ? is_low_oxygen : is_high_carbon_dioxide)) return;
  report.error({"room", room.name, "alarm", alarm.name, oxygen ? "below" : "above"},
               oxygen
                   ? fmt::format("{:g} % is too low a limit where people are: 19.5 % at least (another alarm may "
                                 "then stand below it), unless an override_reason says why",
                                 limit_of(alarm)->limit * 100.0)
                   : fmt::format("{:g} ppm is too high a limit where people are: 5000 ppm at most (another alarm may "
                                 "then stand above it), unless an override_reason says why",
                                 limit_of(alarm)->limit * 1e6));
}

/// A limit that ordinary air trips, or from which it never clears, is soon ignored.
void check_against_fresh_air(const Room& room, const AlarmSettings& alarm, const Site& site, Reporter& report) {
  const auto* limit = limit_of(alarm);
  const Keys at{"room", room.name, "alarm", alarm.name, limit->direction == Direction::low ? "below" : "above"};
  if (alarm.quantity == AlarmQuantity::oxygen && guards_people(room, alarm)) {
    if (limit->direction == Direction::low && limit->limit + limit->deadband >= fresh_air_oxygen)
      report.warning(at, "limit and deadband reach the 20.946 % of fresh air: this alarm would never clear");
    if (limit->direction == Direction::high && limit->limit - limit->deadband <= fresh_air_oxygen)
      report.warning(at, "limit less deadband lies within fresh air (20.946 %): this alarm would never clear");
  }
  if (alarm.quantity != AlarmQuantity::oxygen_partial_pressure || limit->direction != Direction::low) return;
  const auto normal = compensation::standard_pressure(compensation::geopotential(site.elevation));
  if (!normal || limit->limit + limit->deadband < fresh_air_oxygen * normal->si()) return;
  report.warning(at, fmt::format("fresh air at {:.0f} m has only {:.1f} kPa of oxygen: this alarm would never clear",
                                 site.elevation.si(), fresh_air_oxygen * normal->si() / 1e3));
}

void check_announcement(const Room& room, const AlarmSettings& alarm, Reporter& report) {
  if (!guards_people(room, alarm) || !alarm.alarm.annunciation.safety) return;
  const auto sum = time_to_announce(room, alarm);
  if (!sum || *sum <= announcement_at_most) return;
  const auto* limit = limit_of(alarm);
  const auto poll = *sum - assumed_response - evaluation_tick - limit->on_delay;
  report.warning(
      {"room", room.name, "alarm", alarm.name},
      fmt::format("from gas at the sensor to the alarm may take {:g} s (response {:g} s assumed, poll {:g} "
                  "s, on-delay {:g} s, evaluation {:g} s); 30 s at most is advised where people work",
                  static_cast<double>(sum->count()) / 1e3, static_cast<double>(assumed_response.count()) / 1e3,
                  static_cast<double>(poll.count()) / 1e3, static_cast<double>(limit->on_delay.count()) / 1e3,
                  static_cast<double>(evaluation_tick.count()) / 1e3));
}

/// Seven samples give an interval at all; ten leave room for one that is lost or late.
void check_window(const Room& room, const AlarmSettings& alarm, Reporter& report) {
  constexpr int polls_min = 10;
  const auto window = window_of(alarm);
  const auto every = slowest_poll(room, alarm);
  if (!window || *window >= polls_min * every) return;
  report.error({"room", room.name, "alarm", alarm.name, "window"},
               fmt::format("a rate needs {} polls in its window: at least {:g} s with a sensor polled every {:g} s",
                           polls_min, polls_min * static_cast<double>(every.count()) / 1e3,
                           static_cast<double>(every.count()) / 1e3));
}

void check_disagreement(const Room& room, const AlarmSettings& alarm, Reporter& report) {
  if (!std::holds_alternative<alarms::Disagreement>(alarm.alarm.rule) || !report.expects_sensors(room)) return;
  if (channels(room, measurand_of(alarm.quantity)) > 1) return;
  report.error({"room", room.name, "alarm", alarm.name, "condition"},
               fmt::format("the room has one sensor alone that measures \"{}\"; it takes two to disagree",
                           name_of(measurand_of(alarm.quantity))));
}

void check_one_alarm(const Room& room, const AlarmSettings& alarm, const Site& site, Reporter& report) {
  const Keys at{"room", room.name, "alarm", alarm.name};
  if (alarm.quantity == AlarmQuantity::monitoring || report.is_broken(at)) return;
  if (report.expects_sensors(room) && channels(room, measurand_of(alarm.quantity)) == 0) {
    report.error({"room", room.name, "alarm", alarm.name, "quantity"},
                 fmt::format("the room has no sensor that measures \"{}\"", name_of(measurand_of(alarm.quantity))));
    return;
  }
  check_window(room, alarm, report);
  check_disagreement(room, alarm, report);
  if (limit_of(alarm) != nullptr) {
    check_laxness(room, alarm, report);
    check_against_fresh_air(room, alarm, site, report);
    check_announcement(room, alarm, report);
  }
  const bool needed = is_slow(alarm) || (guards_people(room, alarm) && is_lax(alarm));
  if (alarm.override_reason && !needed)
    report.warning({"room", room.name, "alarm", alarm.name, "override_reason"},
                   "there is nothing to override; left here, it would also permit a later slip");
}

} // namespace

std::optional<std::chrono::milliseconds> time_to_announce(const Room& room, const AlarmSettings& alarm) {
  const bool has_average = std::holds_alternative<alarms::TimeAverage>(alarm.alarm.rule);
  const auto poll = slowest_poll(room, alarm);
  if (alarms::limit_in(alarm.alarm.rule) == nullptr || has_average || poll.count() == 0) return std::nullopt;
  const auto window = window_of(alarm).value_or(std::chrono::milliseconds{0});
  return assumed_response + poll + window + delays_of(alarm.alarm.rule).on + evaluation_tick;
}

void check_alarms(const Room& room, const Site& site, Reporter& report) {
  for (const auto& alarm : room.alarms) check_one_alarm(room, alarm, site, report);
  if (room.regime == Regime::enriched || report.is_broken({"room", room.name, "alarm"})) return;
  const auto guarded = [&room](bool (*is_kind)(const AlarmSettings&)) {
    return std::any_of(room.alarms.begin(), room.alarms.end(),
                       [is_kind](const AlarmSettings& a) { return is_kind(a) && a.alarm.annunciation.safety; });
  };
  if (channels(room, Measurand::oxygen) > 0 && !guarded(is_low_oxygen))
    report.warning({"room", room.name},
                   fmt::format("people {} and it has oxygen sensors, but no low-oxygen alarm of class \"safety\"; add "
                               "one with quantity = \"oxygen\" and below = \"19.5 %\"",
                               is_sealable(room.regime) ? "may open its door" : "are in it"));
}

} // namespace oxherd::config
