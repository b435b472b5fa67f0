#include "alarms/entry_lock.hpp"

#include <algorithm>

#include <fmt/core.h>

namespace oxherd::alarms {
namespace {

void object_to_oxygen(const EntryLock& lock, std::span<const Channel> channels, std::vector<std::string>& reasons) {
  if (channels.empty()) reasons.emplace_back("no sensor measures oxygen here");
  for (const Channel& one : channels) {
    if (!is_usable(one))
      reasons.emplace_back("an oxygen sensor gives no value that can be used");
    else if (!(one.value - one.expanded >= lock.oxygen_at_least))
      reasons.push_back(fmt::format("oxygen {:.2f} % could be {:.2f} %, less than {:g} %", one.value * 100.0,
                                    (one.value - one.expanded) * 100.0, lock.oxygen_at_least * 100.0));
    else if (!(one.value + one.expanded <= lock.oxygen_at_most))
      reasons.push_back(fmt::format("oxygen {:.2f} % could be {:.2f} %, more than {:g} %", one.value * 100.0,
                                    (one.value + one.expanded) * 100.0, lock.oxygen_at_most * 100.0));
  }
}

void object_to_carbon_dioxide(const EntryLock& lock, std::span<const Channel> channels,
                              std::vector<std::string>& reasons) {
  for (const Channel& one : channels) {
    if (!is_usable(one))
      reasons.emplace_back("a CO2 sensor gives no value that can be used");
    else if (!(one.value + one.expanded <= lock.carbon_dioxide_at_most))
      reasons.push_back(fmt::format("CO2 {:.0f} ppm could be {:.0f} ppm, more than {:g} ppm", one.value * 1e6,
                                    (one.value + one.expanded) * 1e6, lock.carbon_dioxide_at_most * 1e6));
  }
}

} // namespace

std::vector<std::string> objections(const EntryLock& lock, const EntryView& view) {
  std::vector<std::string> reasons;
  if (view.regime == Regime::sealed_low_oxygen) reasons.emplace_back("the room is sealed at low oxygen");
  if (!view.monitored) reasons.emplace_back("the room is not monitored");
  if (view.safety_alarm) reasons.emplace_back("a safety alarm of the room is not normal");
  object_to_oxygen(lock, view.oxygen, reasons);
  object_to_carbon_dioxide(lock, view.carbon_dioxide, reasons);
  return reasons;
}

EntryLockState next(EntryLockState state, bool fresh, Monotonic now) {
  if (!fresh) return {};
  if (!state.fresh_since) state.fresh_since = now;
  return state;
}

bool is_withheld(const EntryLock& lock, const EntryLockState& state, Monotonic now) {
  return !state.fresh_since || now - *state.fresh_since < lock.hold;
}

} // namespace oxherd::alarms
