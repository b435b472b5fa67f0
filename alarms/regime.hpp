#pragma once

#include <optional>
#include <span>
#include <string_view>

namespace oxherd::alarms {

/// How a room is used; decides which alarms are in force in it.
enum class Regime {
  occupied,                ///< people work in it, or may
  ventilated_before_entry, ///< its air is being made fresh; people may open the door
  sealed_low_oxygen,       ///< deadly by intent, closed, and nobody in it by rule
  enriched                 ///< carbon dioxide is dosed for plants; people come and go
};
/// "occupied", "ventilated-before-entry", "sealed-low-oxygen", "enriched".
[[nodiscard]] std::string_view name_of(Regime regime);
[[nodiscard]] std::optional<Regime> regime_named(std::string_view name);

/// What is known about people in a room.
struct Presence {
  Regime regime = Regime::occupied;
  bool seal_broken = false; ///< a door is, was or may be open, or people are, were or may be in: told by contacts
  friend bool operator==(const Presence&, const Presence&) = default;
};

/// Everywhere but in a sealed room whose seal holds.
[[nodiscard]] bool people_may_be_in(const Presence& presence);

/// Whether an alarm judges now. One of class "safety" that is not for a sealed room comes into force with its seal,
/// whatever the regime.
/// @param regimes  those in which it is in force; none: all of them
/// @checked tests/alarms/regime_test.cpp, over every combination
[[nodiscard]] bool in_force(std::span<const Regime> regimes, bool safety, const Presence& presence);

} // namespace oxherd::alarms
