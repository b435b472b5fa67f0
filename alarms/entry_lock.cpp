#include "alarms/entry_lock.hpp"

#include <array>
#include <string_view>

#include <fmt/core.h>

namespace oxherd::alarms {
namespace {

/// What is said of a number that is beyond a limit, or of which the unfavourable end is.
std::string beyond(std::string_view what, const std::array<std::string, 3>& value_end_limit, bool itself,
                   std::string_view side) {
  const auto& [value, end, limit] = value_end_limit;
  if (itself) return fmt::format("{} {} is {} than {}", what, value, side, limit);
  return fmt::format("{} {} could be {}, {} than {}", what, value, end, side, limit);
}

std::string per_cent(double ratio) { return fmt::format("{:.2f} %", ratio * 100.0); }
std::string ppm(double ratio) { return fmt::format("{:.0f} ppm", ratio * 1e6); }

void object_to_oxygen(const EntryLock& lock, std::span<const Channel> channels, std::vector<std::string>& reasons) {
  if (channels.empty()) reasons.emplace_back("no sensor measures oxygen here");
  for (const Channel& one : channels) {
    const double low = one.value - one.expanded, high = one.value + one.expanded;
    if (!is_usable(one) || one.frozen)
      reasons.emplace_back("an oxygen sensor gives no value that can be used");
    else if (!(low >= lock.oxygen_at_least))
      reasons.push_back(beyond("oxygen", {per_cent(one.value), per_cent(low), per_cent(lock.oxygen_at_least)},
                               one.value < lock.oxygen_at_least, "less"));
    else if (!(high <= lock.oxygen_at_most))
      reasons.push_back(beyond("oxygen", {per_cent(one.value), per_cent(high), per_cent(lock.oxygen_at_most)},
                               one.value > lock.oxygen_at_most, "more"));
  }
}

void object_to_carbon_dioxide(const EntryLock& lock, std::span<const Channel> channels,
                              std::vector<std::string>& reasons) {
  for (const Channel& one : channels) {
    const double high = one.value + one.expanded;
    if (!is_usable(one) || one.frozen)
      reasons.emplace_back("a CO2 sensor gives no value that can be used");
    else if (!(high <= lock.carbon_dioxide_at_most))
      reasons.push_back(beyond("CO2", {ppm(one.value), ppm(high), ppm(lock.carbon_dioxide_at_most)},
                               one.value > lock.carbon_dioxide_at_most, "more"));
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
