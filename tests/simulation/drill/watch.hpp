#pragma once

#include <map>
#include <optional>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "daemon/room/site.hpp"
#include "tests/simulation/drill/tally.hpp"
#include "tests/simulation/drill/true_air.hpp"

namespace oxherd::drill {

/// Holds what the daemon announces of one room against the truth, at every step.
///
/// Never missed: oxygen that is truly below the limit for longer than `deadline` is announced, or that the room is not
/// monitored. The deadline is response of the cells (three times t90: then a first-order cell shows all but a
/// thousandth of a step, less than the guard band), a poll, the on-delay and an evaluation. Where values suffer, it is
/// longer by the age that a sample may have, the on-delay of not-monitored and what an answer may be late. It counts
/// from a start of the daemon anew, never from a reload.
///
/// What cannot be known, and is counted by itself: a value that is untrue and looks good, stuck or with wrong bits, on
/// the voting channels that the decision needs, or on the probe that corrects them all. A 2oo3 vote bears one such
/// cell, a 1oo2 vote one beside another that answers.
///
/// Never without a cause: an alarm is announced only if the oxygen was near its limit, or something that reaches values
/// befell the room, within the time that delays and ages explain; or when the daemon has been started so lately that a
/// sensor of the room had not had its turn.
class RoomWatch {
public:
  RoomWatch(const RoomPlan& plan, std::size_t room) : plan_{plan}, room_{room} {}

  using Active = std::span<const Happening* const>;
  /// What befalls the room has changed, or the daemon has been started: what can be known, from now on.
  void note(Active active, Monotonic now, bool daemon_runs);
  /// Whether it is sealed at low oxygen, so that alarms of its air for people are out of force, as far as can be known:
  /// while it may be, nothing is missed.
  void set_sealed(bool sealed, Monotonic now);
  /// What the daemon announced of this room.
  void announced(const daemon::AlarmRecord& record, const TrueAir& air, Monotonic now, Tally& tally);
  /// After every evaluation of the room. `relay`: energised, so that it does not warn.
  void look(const daemon::Site& site, bool relay, const TrueAir& air, Monotonic now, Tally& tally);

  /// Nothing reaches the room's values now, nor has for as long as a sample stands.
  [[nodiscard]] bool is_undisturbed(Monotonic now) const;

  std::vector<std::string> complaints;

private:
  [[nodiscard]] double deadline_s(double since_s) const;
  [[nodiscard]] std::string_view untruth(Active active) const;

  const RoomPlan& plan_;
  std::size_t room_;
  std::string_view untruth_;          ///< why the truth cannot be known now; empty: it can
  double started_s_ = -1e9;           ///< the daemon
  double known_since_s_ = 0.0;        ///< since when it can, the daemon running
  double unsealed_since_s_ = -1e9;    ///< from then on its alarms are in force
  double unmonitored_until_s_ = -1e9; ///< announced as that; from then on an alarm has its delay
  double suffered_until_s_ = -1e9;    ///< the last time that something reached values
  std::string_view sufferer_ = "";    ///< what it was
  bool suffers_ = false, runs_ = false, was_low_ = false, told_before_ = false;
  double last_look_s_ = 0.0;
  Monotonic last_note_{-1};
  bool spell_counted_ = false;
};

} // namespace oxherd::drill
