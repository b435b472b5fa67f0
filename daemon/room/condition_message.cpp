#include "daemon/room/condition_message.hpp"

#include <cmath>

#include <fmt/core.h>

#include "compensation/constants.hpp"
#include "daemon/room/persons_unit.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon {
namespace {

using alarms::Channel;
using alarms::Direction;
using alarms::MessageFields;
using compensation::fresh_air_oxygen;
using config::AlarmQuantity;

/// Its partial pressure in a standard atmosphere: above it, as above the fraction, things burn more easily.
constexpr double fresh_air_oxygen_Pa = fresh_air_oxygen * compensation::standard_atmosphere;

/// The end of the interval that the limit is judged at.
double unfavourable_end(const alarms::Limit& limit, const Channel& value) {
  return value.value + (limit.direction == Direction::low ? -value.expanded : value.expanded);
}

/// The numbers of a condition, each with its unit.
struct Condition {
  const config::AlarmSettings& settings;
  const std::optional<Channel>& value;
  MessageFields f;

  void fill(const alarms::Limit& limit) {
    const auto unit = persons_unit(settings);
    f.quantity = spoken(settings.quantity);
    f.limit = as_a_person_wrote_it(unit, limit.limit);
    f.value = value ? in_persons_unit(unit, value->value) : "unknown";
    f.lower = value ? in_persons_unit(unit, unfavourable_end(limit, *value)) : "unknown";
  }
  [[nodiscard]] std::string of_quantity(double si) const {
    auto unit = persons_unit(settings.quantity);
    unit.named = true;
    return as_a_person_wrote_it(unit, si);
  }
  /// Without a number now the last decision is held, and the message must say so.
  [[nodiscard]] std::string held(std::string text) const {
    if (!value) text += " There is no number for it now: what was decided before stands.";
    return text;
  }

  std::string operator()(const alarms::Limit& limit) {
    fill(limit);
    auto unit = persons_unit(settings);
    f.unit = unit.name;
    unit.named = false; // these texts have the unit
    const auto number = [&](double si) { return in_persons_unit(unit, si); };
    f.limit = as_a_person_wrote_it(unit, limit.limit);
    f.value = value ? number(value->value) : "unknown";
    f.lower = value ? number(unfavourable_end(limit, *value)) : "unknown";
    const std::string text = limit_text(limit);
    const std::string why = f.reason.empty() ? "no reason known" : f.reason;
    if (!value) return text + " No channel gives a valid reading (" + why + "), so the alarm stands.";
    const bool low = limit.direction == Direction::low;
    const double edge = unfavourable_end(limit, *value);
    const bool by_guard_band_alone =
        low ? value->value > limit.limit && edge <= limit.limit : value->value < limit.limit && edge >= limit.limit;
    if (!by_guard_band_alone) return text;
    return text + " " +
           alarms::guard_band_text(f.value, number(value->expanded), f.unit,
                                   f.reason.empty() ? "the normal uncertainty of the measurement" : f.reason);
  }
  [[nodiscard]] std::string limit_text(const alarms::Limit& limit) const {
    const bool low = limit.direction == Direction::low;
    if (settings.quantity == AlarmQuantity::carbon_dioxide)
      return low ? alarms::low_carbon_dioxide_text(f) : alarms::high_carbon_dioxide_text(f);
    if (low) return alarms::low_oxygen_text(f);
    const double fresh_air =
        settings.quantity == AlarmQuantity::oxygen_partial_pressure ? fresh_air_oxygen_Pa : fresh_air_oxygen;
    return limit.limit > fresh_air ? alarms::high_oxygen_text(f) : alarms::oxygen_above_limit_text(f);
  }
  std::string operator()(const alarms::RateOfFall& rule) {
    fill(rule.limit);
    return held(alarms::falling_text(f));
  }
  std::string operator()(const alarms::TimeToLimit& rule) {
    fill(rule.limit);
    f.reference = of_quantity(rule.reached);
    return held(alarms::limit_near_text(f));
  }
  std::string operator()(const alarms::TimeAverage& rule) {
    fill(rule.limit);
    f.reference = minutes_text(rule.over);
    return held(alarms::average_text(f, rule.limit.direction == Direction::low ? "LOW" : "HIGH"));
  }
  std::string operator()(const alarms::Disagreement& rule) {
    fill(rule.limit);
    f.lower = value ? in_persons_unit(persons_unit(settings), value->expanded) : "unknown";
    return held(alarms::disagreement_text(f));
  }
  std::string operator()(const alarms::Deviation& rule) {
    fill(rule.limit);
    f.reference = of_quantity(rule.set_point);
    return held(alarms::deviation_text(f));
  }
  std::string operator()(const alarms::Degraded& rule) {
    f.limit = minutes_text(rule.permitted);
    if (f.reason.empty()) f.reason = "no reason known";
    return alarms::degraded_text(f);
  }
  std::string operator()(const alarms::DoorOpen& rule) {
    f.limit = minutes_text(rule.on_delay);
    return alarms::door_open_text(f);
  }
  std::string operator()(const alarms::OutputLost&) {
    if (f.reason.empty()) f.reason = "nothing is known of it yet since the restart";
    return alarms::output_lost_text(f);
  }
  std::string operator()(const alarms::ControlTripped&) {
    if (f.reason.empty()) f.reason = "nothing more is known of it since the restart";
    return alarms::control_tripped_text(f);
  }
  std::string operator()(const alarms::NotMonitored&) {
    if (f.reason.empty()) f.reason = "no reason known";
    return alarms::not_monitored_text(f);
  }

  static std::string minutes_text(std::chrono::milliseconds time) {
    const double minutes = std::chrono::duration<double, std::ratio<60>>{time}.count();
    return minutes >= 120.0 ? fmt::format("{:.4g} h", minutes / 60.0) : fmt::format("{:.4g} min", minutes);
  }
};

} // namespace

std::string condition_message(const config::AlarmSettings& settings, const std::optional<Channel>& value,
                              MessageFields f) {
  return std::visit(Condition{settings, value, std::move(f)}, settings.alarm.rule);
}

} // namespace oxherd::daemon
