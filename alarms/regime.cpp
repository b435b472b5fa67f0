#include "alarms/regime.hpp"

#include <algorithm>
#include <array>
#include <utility>

namespace oxherd::alarms {
namespace {

constexpr std::array<std::pair<Regime, std::string_view>, 4> regime_names{
    {{Regime::occupied, "occupied"},
     {Regime::ventilated_before_entry, "ventilated-before-entry"},
     {Regime::sealed_low_oxygen, "sealed-low-oxygen"},
     {Regime::enriched, "enriched"}}};

} // namespace

std::string_view name_of(Regime regime) {
  for (const auto& [one, name] : regime_names)
    if (one == regime) return name;
  return "unknown";
}

std::optional<Regime> regime_named(std::string_view name) {
  for (const auto& [one, known] : regime_names)
    if (known == name) return one;
  return std::nullopt;
}

bool people_may_be_in(const Presence& presence) {
  return presence.regime != Regime::sealed_low_oxygen || presence.seal_broken;
}

bool in_force(std::span<const Regime> regimes, bool safety, const Presence& presence) {
  const bool listed = regimes.empty() || std::find(regimes.begin(), regimes.end(), presence.regime) != regimes.end();
  return listed || (safety && people_may_be_in(presence));
}

} // namespace oxherd::alarms
