#include "config/alarm_defaults.hpp"

namespace oxherd::config {
namespace {

using std::chrono::seconds;

// Proposals of the project throughout. ISA-18.2 gives starting points only for flow, level, pressure and temperature;
// the shape is the same: a safety alarm comes soon and goes late, a process alarm waits for a trend.
AlarmDefaults starting_values(const AlarmKind& kind) {
  const bool carbon_dioxide = kind.quantity == AlarmQuantity::carbon_dioxide;
  if (carbon_dioxide && kind.safety) return {250e-6, seconds{5}, seconds{30}};
  if (carbon_dioxide && kind.regime == Regime::sealed) return {0.002, seconds{300}, seconds{300}};
  if (carbon_dioxide) return {100e-6, seconds{60}, seconds{60}};
  // 0.2 kPa of oxygen is 0.2 % of a standard atmosphere.
  const double deadband = kind.quantity == AlarmQuantity::oxygen_partial_pressure ? 200.0 : 0.002;
  if (kind.safety) return {deadband, seconds{3}, seconds{10}};
  return {deadband, seconds{120}, seconds{600}};
}

} // namespace

AlarmDefaults defaults_of(const AlarmKind& kind) {
  AlarmDefaults defaults = starting_values(kind);
  // Critical: act at once. Low oxygen, or much carbon dioxide, where people are (common practice for the scheme).
  const bool harms = kind.quantity == AlarmQuantity::carbon_dioxide ? kind.direction == alarms::Direction::high
                                                                    : kind.direction == alarms::Direction::low;
  if (harms && kind.safety && kind.regime == Regime::occupied) defaults.priority = alarms::Priority::critical;
  return defaults;
}

} // namespace oxherd::config
