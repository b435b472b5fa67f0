#include "daemon/room/monitoring.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/core.h>

#include "daemon/room/channel.hpp"

namespace oxherd::daemon {
namespace {

using alarms::Quality;
using alarms::Status;

/// The text of the gravest; empty when there is none.
std::string gravest_text(const std::vector<alarms::Reason>& reasons) {
  const alarms::Reason* gravest = nullptr;
  for (const auto& r : reasons)
    if (!gravest || r.status > gravest->status) gravest = &r;
  return gravest ? gravest->text : std::string{};
}

std::string why(const GasReading& reading) {
  auto all = reading.reasons;
  all.insert(all.end(), reading.cell_reasons.begin(), reading.cell_reasons.end());
  return all.empty() ? "no reading" : gravest_text(all);
}

/// What makes an uncertainty wide: a lost input, or else the input that contributes most.
std::string why_wide(const GasReading& reading) {
  if (!reading.reasons.empty()) return gravest_text(reading.reasons);
  if (!reading.oxygen) return "no reading";
  const auto& budget = reading.oxygen->budget;
  const auto largest =
      std::max_element(budget.begin(), budget.end(), [](double x, double y) { return std::abs(x) < std::abs(y); });
  const auto input = static_cast<compensation::Input>(largest - budget.begin());
  if (input == compensation::Input::drift) return "drift since its calibration: calibrate the cell";
  return fmt::format("mostly that of {}", compensation::name_of(input));
}

void append(std::string& list, const std::string& item) { list += (list.empty() ? "" : "; ") + item; }

struct Group {
  int usable = 0;
  int faulted = 0;
  std::string troubles;
};

bool is_frozen(const GasReading& reading) {
  return std::any_of(reading.reasons.begin(), reading.reasons.end(),
                     [](const alarms::Reason& r) { return r.kind == alarms::ReasonKind::stuck; });
}

void count(Group& group, const config::Sensor& sensor, const GasReading& reading, bool too_wide) {
  const bool bad = alarms::quality_of(reading.status) == Quality::bad;
  if (bad || too_wide || is_frozen(reading))
    ++group.faulted;
  else
    ++group.usable;
  if (too_wide && !bad)
    append(group.troubles, fmt::format("{}: uncertainty too wide to judge by ({})", sensor.name, why_wide(reading)));
  // That a cell is due for its calibration does not explain why an alarm came: that stays with the sensor.
  else if (bad || !reading.reasons.empty() || alarms::gravest(reading.cell_reasons) > Status::maintenance_required)
    append(group.troubles, fmt::format("{}: {}", sensor.name, why(reading)));
}

alarms::Channel channel(const GasReading& reading, double value, double expanded) {
  return {alarms::quality_of(reading.status), value, expanded, reading.taken, reading.awaited, is_frozen(reading)};
}

/// How well a group votes; one of a single channel is never degraded, and none is "full" too.
alarms::VoteHealth health_of(alarms::Scheme scheme, const Group& group) {
  if (alarms::channels_of(scheme) == 1 || group.faulted == 0) return alarms::VoteHealth::full;
  return alarms::is_degraded(scheme, group.faulted) ? alarms::VoteHealth::degraded : alarms::VoteHealth::lost;
}

} // namespace

std::optional<config::Measurand> gas_of(const config::Sensor& sensor) {
  for (const auto gas : {config::Measurand::oxygen, config::Measurand::carbon_dioxide})
    if (point_of(sensor, gas)) return gas;
  return std::nullopt;
}

WatchedQuantities watch_room(const config::Room& room, const std::vector<std::optional<GasReading>>& readings,
                             const alarms::Presence& presence) {
  WatchedQuantities watched;
  watched.presence = presence;
  const bool judges_people = presence.regime != alarms::Regime::enriched && alarms::people_may_be_in(presence);
  Group oxygen, carbon_dioxide;
  const double k = room.coverage_factor;
  for (std::size_t s = 0; s < room.sensors.size(); ++s) {
    if (!readings[s]) continue;
    const GasReading& r = *readings[s];
    if (gas_of(room.sensors[s]) == config::Measurand::carbon_dioxide) {
      const auto x = r.carbon_dioxide.value_or(Uncertain<WetFraction>{});
      watched.carbon_dioxide_awaited = watched.carbon_dioxide_awaited || r.awaited;
      watched.carbon_dioxide.push_back(channel(r, x.value.si(), k * x.u_si));
      count(carbon_dioxide, room.sensors[s], r, false);
      continue;
    }
    const auto o = r.oxygen.value_or(compensation::OxygenReading{});
    watched.oxygen_awaited = watched.oxygen_awaited || r.awaited;
    watched.oxygen.push_back(channel(r, o.dry.si(), k * o.u_dry));
    watched.oxygen_partial_pressure.push_back(channel(r, o.po2.si(), k * o.u_po2_Pa));
    const bool too_wide = judges_people && k * o.u_dry > room.expanded_oxygen_max;
    count(oxygen, room.sensors[s], r, too_wide);
  }
  const bool has_oxygen = !watched.oxygen.empty();
  const bool has_carbon_dioxide = !watched.carbon_dioxide.empty();
  watched.monitored = (has_oxygen || has_carbon_dioxide) &&
                      (!has_oxygen || alarms::is_monitored(room.oxygen_vote, oxygen.faulted)) &&
                      (!has_carbon_dioxide || alarms::is_monitored(room.carbon_dioxide_vote, carbon_dioxide.faulted));
  watched.vote_health =
      std::max(health_of(room.oxygen_vote, oxygen), health_of(room.carbon_dioxide_vote, carbon_dioxide));
  watched.reason = oxygen.troubles;
  if (!carbon_dioxide.troubles.empty()) append(watched.reason, carbon_dioxide.troubles);
  if (!has_oxygen && !has_carbon_dioxide) watched.reason = "no sensor here measures oxygen or carbon dioxide";
  return watched;
}

} // namespace oxherd::daemon
