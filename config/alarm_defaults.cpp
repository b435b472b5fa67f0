#include "config/alarm_defaults.hpp"

#include "config/regime_rules.hpp"

namespace oxherd::config {
namespace {

using std::chrono::seconds;

// Proposals of the project throughout. ISA-18.2 gives starting points only for flow, level, pressure and temperature;
// the shape is the same: a safety alarm comes soon and goes late, a process alarm waits for a trend.
AlarmDefaults starting_values(const AlarmKind& kind) {
  const bool carbon_dioxide = kind.quantity == AlarmQuantity::carbon_dioxide;
  if (carbon_dioxide && kind.safety) return {250e-6, seconds{5}, seconds{30}};
  if (carbon_dioxide && is_sealable(kind.regime)) return {0.002, seconds{300}, seconds{300}};
  if (carbon_dioxide) return {100e-6, seconds{60}, seconds{60}};
  // 0.2 kPa of oxygen is 0.2 % of a standard atmosphere.
  const double deadband = kind.quantity == AlarmQuantity::oxygen_partial_pressure ? 200.0 : 0.002;
  if (kind.safety) return {deadband, seconds{3}, seconds{10}};
  return {deadband, seconds{120}, seconds{600}};
}

/// A rate and a forecast are noisier than a value: a fifth of the limit, and ten seconds to make sure. Proposals.
AlarmDefaults of_a_course(double limit) { return {0.2 * limit, seconds{10}, seconds{30}, alarms::Priority::high}; }

/// Cells differ for minutes when doors open: a small difference must last, a large one less. Proposals of the project.
AlarmDefaults of_a_disagreement(const AlarmKind& kind, double limit) {
  const bool large = limit >= 2.0 * spread_by_default(kind.quantity);
  const auto wait = kind.safety ? seconds{10} : seconds{large ? 120 : 900};
  return {0.2 * limit, wait, seconds{60}, alarms::Priority::medium};
}

AlarmDefaults of_a_limit(const AlarmKind& kind) {
  AlarmDefaults defaults = starting_values(kind);
  // Critical: act at once. Low oxygen, or much carbon dioxide, where people are (common practice for the scheme).
  const bool harms = kind.quantity == AlarmQuantity::carbon_dioxide ? kind.direction == alarms::Direction::high
                                                                    : kind.direction == alarms::Direction::low;
  // In a room that can be sealed such an alarm is in force only where people may be.
  if (harms && kind.safety && kind.regime != Regime::enriched) defaults.priority = alarms::Priority::critical;
  return defaults;
}

} // namespace

bool is_safety_by_default(Condition condition) {
  return condition == Condition::limit || condition == Condition::time_average;
}

double spread_by_default(AlarmQuantity quantity) {
  // 0.5 % for fifteen minutes, or 1 % for two: proposal of the project, from what settled cells of one batch agree to
  // (common practice, no source). 0.5 kPa is 0.5 % of a standard atmosphere.
  if (quantity == AlarmQuantity::oxygen) return 0.005;
  return quantity == AlarmQuantity::oxygen_partial_pressure ? 500.0 : 0.0;
}

AlarmDefaults defaults_of(const AlarmKind& kind, double limit) {
  switch (kind.condition) { // no default: a new condition must not compile until it has values here
  case Condition::limit: return of_a_limit(kind);
  case Condition::rate_of_fall:
  case Condition::time_to_limit: return of_a_course(limit);
  case Condition::disagreement: return of_a_disagreement(kind, limit);
  case Condition::time_average: {
    // The average has waited already; what it lacks is a pause before it ends. Nobody must run, but somebody must act.
    AlarmDefaults defaults = starting_values(kind);
    return {defaults.deadband, seconds{0}, seconds{60}, alarms::Priority::high};
  }
  case Condition::door_open: return {0.0, seconds{120}, seconds{0}, alarms::Priority::medium};
  case Condition::deviation: {
    AlarmDefaults defaults = starting_values(kind);
    defaults.priority = alarms::Priority::medium; // out of its band: in 15 to 30 minutes (common practice)
    return defaults;
  }
  }
  return {};
}

} // namespace oxherd::config
