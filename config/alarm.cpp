#include <array>
#include <string>

#include <fmt/core.h>

#include "config/alarm_defaults.hpp"
#include "config/rules.hpp"
#include "config/sections.hpp"

namespace oxherd::config {
namespace {

using alarms::Direction;
using alarms::Priority;
using compensation::Dimension;

constexpr std::array<Choice<AlarmQuantity>, 4> alarm_quantities{
    {{"oxygen", AlarmQuantity::oxygen},
     {"oxygen-partial-pressure", AlarmQuantity::oxygen_partial_pressure},
     {"carbon-dioxide", AlarmQuantity::carbon_dioxide},
     {"monitoring", AlarmQuantity::monitoring}}};
constexpr std::array<Choice<bool>, 2> alarm_classes{{{"safety", true}, {"process", false}}};

constexpr QuantityRule ratio_limit{Dimension::ratio, 0.0, 1.0, "0 % to 100 %"};
constexpr QuantityRule pressure_limit{Dimension::pressure, 0.0, 110e3, "0 kPa to 110 kPa"};
constexpr QuantityRule delay_span{Dimension::duration, 0.0, 3600.0, "0 s to 1 h"};
constexpr QuantityRule reannounce_span{Dimension::duration, 60.0, 86400.0, "1 min to 24 h"};
constexpr QuantityRule shelve_span{Dimension::duration, 60.0, 8 * 3600.0, "1 min to 8 h"};
constexpr QuantityRule silence_span{Dimension::duration, 10.0, 600.0, "10 s to 10 min"};
/// Unmonitored for a minute is the longest that may pass unannounced, in any room.
constexpr QuantityRule unmonitored_span{Dimension::duration, 0.0, 60.0, "0 s to 60 s"};

std::optional<Priority> read_priority(TableReader& in) {
  constexpr std::array all{Priority::low, Priority::medium, Priority::high, Priority::critical};
  std::vector<std::string> words;
  for (const auto priority : all) words.emplace_back(alarms::name_of(priority));
  const auto index = in.word("priority", words);
  return index ? std::optional{all.at(*index)} : std::nullopt;
}

/// Exactly one of `below` and `above`.
void read_limit(TableReader& in, AlarmQuantity quantity, alarms::Limit& limit) {
  const bool partial_pressure = quantity == AlarmQuantity::oxygen_partial_pressure;
  const QuantityRule& rule = partial_pressure ? pressure_limit : ratio_limit;
  const auto below = in.quantity("below", rule);
  const auto above = in.quantity("above", rule);
  if (in.has("below") && in.has("above")) in.error("above", "below is given as well; one alarm has one limit");
  if (!in.has("below") && !in.has("above"))
    in.error("", fmt::format("needs a limit: below or above, for example {}",
                             partial_pressure                            ? "below = \"18 kPa\""
                             : quantity == AlarmQuantity::carbon_dioxide ? "above = \"5000 ppm\""
                                                                         : "below = \"19.5 %\""));
  limit.direction = in.has("below") ? Direction::low : Direction::high;
  limit.limit = below.value_or(above.value_or(0.0));
  if (below == 0.0) in.error("below", "nothing is below zero; this alarm could never trip");
}

void read_annunciation(TableReader& in, alarms::Annunciation& a) {
  using std::chrono::minutes;
  a.latching = in.boolean("latching").value_or(a.safety);
  a.reannounce_after = in.duration("reannounce_after", reannounce_span).value_or(minutes{a.safety ? 15 : 60});
  a.shelve_at_most = in.duration("shelve_at_most", shelve_span).value_or(a.shelve_at_most);
  if (a.safety && in.has("shelve_at_most"))
    in.error("shelve_at_most", "an alarm of class \"safety\" cannot be shelved");
  a.silence_for = in.duration("silence_for", silence_span).value_or(a.silence_for);
  a.acknowledge_required = in.boolean("acknowledge_required").value_or(true);
  if (!a.acknowledge_required && (a.safety || a.priority != Priority::low))
    in.error("acknowledge_required",
             "may only be false for an alarm of class \"process\" and priority \"low\"; any other needs a person");
}

std::optional<std::string> read_override(TableReader& in) { return in.text("override_reason"); }

} // namespace

AlarmSettings read_alarm(const std::string& name, TableReader in, Regime regime) {
  AlarmSettings settings;
  settings.name = name;
  in.require("quantity", "\"oxygen\"");
  settings.quantity = in.choice("quantity", alarm_quantities).value_or(settings.quantity);
  if (settings.quantity == AlarmQuantity::monitoring) {
    in.error("quantity", fmt::format("every room has this alarm already, named \"{}\"; change its delays in a table of "
                                     "that name",
                                     not_monitored_name));
    return settings;
  }
  auto& annunciation = settings.alarm.annunciation;
  annunciation.safety = in.choice("class", alarm_classes).value_or(true);

  alarms::Limit limit;
  read_limit(in, settings.quantity, limit);
  const auto defaults = defaults_of({settings.quantity, annunciation.safety, regime, limit.direction});
  const bool partial_pressure = settings.quantity == AlarmQuantity::oxygen_partial_pressure;
  limit.deadband = in.quantity("deadband", partial_pressure ? pressure_limit : ratio_limit).value_or(defaults.deadband);
  limit.on_delay = in.duration("on_delay", delay_span).value_or(defaults.on_delay);
  limit.off_delay = in.duration("off_delay", delay_span).value_or(defaults.off_delay);
  settings.alarm.rule = limit;

  annunciation.priority = read_priority(in).value_or(defaults.priority);
  read_annunciation(in, annunciation);
  settings.override_reason = read_override(in);
  if (annunciation.safety && limit.on_delay > safety_on_delay_max && !in.has("override_reason"))
    in.error("on_delay", fmt::format("{} s is too long for an alarm of class \"safety\": 10 s at most, unless an "
                                     "override_reason says why",
                                     static_cast<double>(limit.on_delay.count()) / 1e3));
  in.finish();
  return settings;
}

AlarmSettings not_monitored_alarm(Regime regime) {
  AlarmSettings settings;
  settings.name = not_monitored_name;
  settings.quantity = AlarmQuantity::monitoring;
  alarms::NotMonitored rule;
  // Proposal of the project: where people may be, ten seconds; a sealed room has nobody in it by rule.
  rule.on_delay = std::chrono::seconds{regime == Regime::sealed ? 60 : 10};
  rule.off_delay = std::chrono::seconds{5};
  settings.alarm.rule = rule;
  settings.alarm.annunciation.priority = Priority::high;
  return settings;
}

void adjust_not_monitored(TableReader in, AlarmSettings& settings) {
  auto& rule = std::get<alarms::NotMonitored>(settings.alarm.rule);
  rule.on_delay = in.duration("on_delay", unmonitored_span).value_or(rule.on_delay);
  rule.off_delay = in.duration("off_delay", delay_span).value_or(rule.off_delay);
  auto& annunciation = settings.alarm.annunciation;
  annunciation.priority = read_priority(in).value_or(annunciation.priority);
  annunciation.latching = in.boolean("latching").value_or(annunciation.latching);
  const auto quantity = in.choice("quantity", alarm_quantities);
  if (quantity && *quantity != AlarmQuantity::monitoring)
    in.error("quantity", "this name belongs to the alarm that the room is not monitored; give another alarm another "
                         "name");
  in.finish();
}

} // namespace oxherd::config
