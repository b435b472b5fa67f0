#include "daemon/control/purge_watch.hpp"

#include "alarms/rules/standing_value.hpp"

namespace oxherd::daemon {
namespace {

/// How well volumes, flows and mixing are known when nobody says: proposal of the project. A room's free volume is
/// estimated, flow meters of generators are of class 5 or so, and mixing is a guess.
constexpr double volume_doubt = 0.10, flow_doubt = 0.10, mixing_doubt = 0.20;

} // namespace

control::UncertainDilution dilution_of(const config::Room& room, const config::GasSupply& supply) {
  control::UncertainDilution dilution;
  const double volume = room.volume_m3.value_or(0.0);
  dilution.volume_m3 = {volume, volume_doubt * volume};
  dilution.mixing = {room.mixing, mixing_doubt * room.mixing};
  dilution.supply_m3_s = {supply.flow_m3_per_s, flow_doubt * supply.flow_m3_per_s};
  dilution.supply_fraction = {supply.oxygen, 0.2 * supply.oxygen};
  return dilution;
}

PurgeWatch::Found PurgeWatch::look(const config::Room& room, const config::GasSupply& supply,
                                   const WatchedQuantities& watched, bool on, Monotonic now) {
  const auto standing = alarms::standing_value(watched.oxygen, alarms::Direction::high);
  if (!standing) {
    if (!on) begin_.reset();
    return {control::Truth::unknown, "oxygen is not known, so nobody can tell whether it falls"};
  }
  const control::Estimate oxygen{standing->value, standing->expanded / room.coverage_factor};
  if (!on) begin_.reset();
  if (on && !begin_) begin_ = Begin{oxygen, now};
  const auto began = begin_.value_or(Begin{oxygen, now});
  const control::Fall fall{began.oxygen, oxygen, alarms::seconds_of(now - began.at),
                           alarms::seconds_of(supply.dead_time)};
  const auto judged = control::falls_as_forecast(dilution_of(room, supply), fall);
  switch (judged.verdict) {
  case control::FallVerdict::as_forecast:
  case control::FallVerdict::too_early: return {control::Truth::holds, judged.words};
  case control::FallVerdict::slower:
  case control::FallVerdict::no_fall_forecast: return {control::Truth::fails, judged.words};
  case control::FallVerdict::no_forecast: return {control::Truth::unknown, judged.words};
  }
  return {};
}

} // namespace oxherd::daemon
