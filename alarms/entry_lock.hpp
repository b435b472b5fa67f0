#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "alarms/regime.hpp"
#include "alarms/rules/rule_input.hpp"
#include "alarms/time.hpp"

namespace oxherd::alarms {

/// When the lock of a room's door is withheld from those who want to enter. It can only withhold: that it no longer
/// does so never means that the air may be breathed, and it must never keep anybody in.
struct EntryLock {
  /// Proposals of the project: near fresh air (20.9 %), with room for the uncertainty of a cell.
  double oxygen_at_least = 0.205;
  double oxygen_at_most = 0.235;            ///< above it air counts as oxygen-enriched (WAC 296-155-20301)
  double carbon_dioxide_at_most = 0.005;    ///< the 8-hour limit of the US, the UK and the EU
  Monotonic hold{std::chrono::minutes{15}}; ///< fresh without a break for so long; proposal of the project
};

/// What is known of a room when its lock is decided on. Channels in SI, with their expanded uncertainties.
struct EntryView {
  Regime regime = Regime::occupied;
  bool monitored = false;
  bool safety_alarm = false; ///< any of class "safety" that is not normal, or that is out of service
  std::span<const Channel> oxygen{}, carbon_dioxide{};
};

struct EntryLockState {
  std::optional<Monotonic> fresh_since; ///< empty: something speaks against it
  friend bool operator==(const EntryLockState&, const EntryLockState&) = default;
};

/// Why the air cannot count as fresh; every reason, none when nothing speaks against it. Each channel is held against
/// the limits with the unfavourable end of its interval; one that cannot be used is a reason.
[[nodiscard]] std::vector<std::string> objections(const EntryLock& lock, const EntryView& view);

/// One evaluation: any objection starts the time anew.
[[nodiscard]] EntryLockState next(EntryLockState state, bool fresh, Monotonic now);
/// Withheld until the air has been fresh for `hold` without a break.
[[nodiscard]] bool is_withheld(const EntryLock& lock, const EntryLockState& state, Monotonic now);

} // namespace oxherd::alarms
