#include <array>
#include <string>

#include <fmt/core.h>

#include "config/alarm_conditions.hpp"
#include "config/alarm_defaults.hpp"
#include "config/hours.hpp"
#include "config/regime_rules.hpp"
#include "config/rules.hpp"
#include "config/sections.hpp"

namespace oxherd::config {
namespace {

using alarms::Priority;
using compensation::Dimension;

constexpr std::array<Choice<AlarmQuantity>, 5> alarm_quantities{
    {{"oxygen", AlarmQuantity::oxygen},
     {"oxygen-partial-pressure", AlarmQuantity::oxygen_partial_pressure},
     {"carbon-dioxide", AlarmQuantity::carbon_dioxide},
     {"door", AlarmQuantity::door},
     {"monitoring", AlarmQuantity::monitoring}}};
constexpr std::array<Choice<bool>, 2> alarm_classes{{{"safety", true}, {"process", false}}};

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

/// The table `suppressed`.
std::optional<SuppressedHours> read_suppressed(TableReader& in, bool safety) {
  auto table = in.table("suppressed");
  if (!table) return std::nullopt;
  for (const auto& [key, example] :
       {std::pair{"from", "\"20:00\""}, {"to", "\"06:00\""}, {"because", "\"no CO2 is dosed at night\""}})
    table->require(key, example);
  SuppressedHours suppressed{read_hours(*table, {}), table->text("because").value_or("")};
  table->finish();
  if (safety) in.error("suppressed", "an alarm of class \"safety\" is never suppressed: people may be in at any hour");
  if (suppressed.hours.from == suppressed.hours.to && table->has("from") && table->has("to"))
    table->error("to", "is when it begins too: an alarm that is never in force warns nobody");
  return suppressed;
}

std::optional<std::string> read_override(TableReader& in) { return in.text("override_reason"); }

} // namespace

std::string_view name_of(AlarmQuantity quantity) {
  for (const auto& choice : alarm_quantities)
    if (choice.value == quantity) return choice.word;
  return "";
}

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
  AlarmKind kind{.quantity = settings.quantity, .regime = regime, .condition = read_condition(in, settings.quantity)};
  kind.safety = in.choice("class", alarm_classes).value_or(is_safety_by_default(kind.condition));
  annunciation.safety = kind.safety;
  settings.alarm.rule = read_rule(in, kind);

  kind.direction = direction_of(settings.alarm.rule);
  annunciation.priority = read_priority(in).value_or(defaults_of(kind).priority);
  read_annunciation(in, annunciation);
  settings.regimes = read_regimes_of_alarm(in, kind);
  settings.suppressed = read_suppressed(in, kind.safety);
  settings.override_reason = read_override(in);
  const auto on_delay = delays_of(settings.alarm.rule).on;
  if (annunciation.safety && on_delay > safety_on_delay_max && !in.has("override_reason"))
    in.error("on_delay", fmt::format("{} s is too long for an alarm of class \"safety\": 10 s at most, unless an "
                                     "override_reason says why",
                                     static_cast<double>(on_delay.count()) / 1e3));
  in.finish();
  return settings;
}

AlarmSettings not_monitored_alarm(Regime regime) {
  AlarmSettings settings;
  settings.name = not_monitored_name;
  settings.quantity = AlarmQuantity::monitoring;
  alarms::NotMonitored rule;
  // Proposal of the project: where people may be, ten seconds; a sealed room has nobody in it by rule.
  rule.on_delay = std::chrono::seconds{10};
  if (is_sealable(regime)) rule.on_delay_unattended = std::chrono::seconds{60};
  rule.off_delay = std::chrono::seconds{5};
  settings.alarm.rule = rule;
  settings.alarm.annunciation.priority = Priority::high;
  return settings;
}

AlarmSettings degraded_alarm() {
  AlarmSettings settings;
  settings.name = degraded_name;
  settings.quantity = AlarmQuantity::monitoring;
  settings.alarm.rule = alarms::Degraded{};
  // Somebody must repair it, nobody must leave: a process alarm, to be seen to within half an hour (common practice).
  auto& annunciation = settings.alarm.annunciation;
  annunciation.safety = annunciation.latching = false;
  annunciation.priority = Priority::medium;
  annunciation.reannounce_after = std::chrono::minutes{60};
  return settings;
}

AlarmSettings output_lost_alarm() {
  AlarmSettings settings;
  settings.name = output_lost_name;
  settings.quantity = AlarmQuantity::monitoring;
  settings.alarm.rule = alarms::OutputLost{};
  // Safety class, since the next alarm may warn nobody; it ends with the confirmation, which is all there is to
  // inspect.
  settings.alarm.annunciation.latching = false;
  settings.alarm.annunciation.priority = Priority::high;
  return settings;
}

AlarmSettings control_tripped_alarm() {
  AlarmSettings settings;
  settings.name = control_tripped_name;
  settings.quantity = AlarmQuantity::monitoring;
  settings.alarm.rule = alarms::ControlTripped{};
  // The gas is shut already: somebody must look, soon (common practice). Of class process, for a safety alarm would
  // itself keep what tripped from being released.
  auto& annunciation = settings.alarm.annunciation;
  annunciation.safety = annunciation.latching = false;
  annunciation.priority = Priority::high;
  return settings;
}

namespace {

/// The delays of an alarm that rooms have by themselves.
struct BuiltInDelays {
  std::chrono::milliseconds& on;
  std::chrono::milliseconds& off;
};

void adjust_built_in(TableReader& in, const QuantityRule& on_span, BuiltInDelays delays,
                     alarms::Annunciation& annunciation, std::string_view about) {
  delays.on = in.duration("on_delay", on_span).value_or(delays.on);
  delays.off = in.duration("off_delay", alarm_delay).value_or(delays.off);
  annunciation.priority = read_priority(in).value_or(annunciation.priority);
  annunciation.latching = in.boolean("latching").value_or(annunciation.latching);
  const auto quantity = in.choice("quantity", alarm_quantities);
  if (quantity && *quantity != AlarmQuantity::monitoring)
    in.error("quantity", fmt::format("this name belongs to the alarm that {}; give another alarm another name", about));
}

} // namespace

void adjust_not_monitored(TableReader in, AlarmSettings& settings) {
  auto& rule = std::get<alarms::NotMonitored>(settings.alarm.rule);
  if (in.has("on_delay")) rule.on_delay_unattended.reset(); // what is stated holds always
  adjust_built_in(in, unmonitored_span, {rule.on_delay, rule.off_delay}, settings.alarm.annunciation,
                  "the room is not monitored");
  in.finish();
}

void adjust_degraded(TableReader in, AlarmSettings& settings) {
  auto& rule = std::get<alarms::Degraded>(settings.alarm.rule);
  adjust_built_in(in, alarm_delay, {rule.on_delay, rule.off_delay}, settings.alarm.annunciation,
                  "a vote has lost a channel");
  in.finish();
}

void adjust_control_tripped(TableReader in, AlarmSettings& settings) {
  auto& rule = std::get<alarms::ControlTripped>(settings.alarm.rule);
  adjust_built_in(in, unmonitored_span, {rule.on_delay, rule.off_delay}, settings.alarm.annunciation,
                  "an interlock has stopped an actuator");
  in.finish();
}

void adjust_output_lost(TableReader in, AlarmSettings& settings) {
  auto& rule = std::get<alarms::OutputLost>(settings.alarm.rule);
  // Its outputs have waited already, each for its own `confirm_within`; any room may wait a minute more at most.
  adjust_built_in(in, unmonitored_span, {rule.on_delay, rule.off_delay}, settings.alarm.annunciation,
                  "an output is lost");
  in.finish();
}

} // namespace oxherd::config
