#pragma once

#include <optional>
#include <string_view>
#include <vector>

#include <tl/expected.hpp>

#include "alarms/annunciation.hpp"
#include "alarms/chatter.hpp"
#include "alarms/rules/rule.hpp"
#include "alarms/simulation.hpp"

namespace oxherd::alarms {

/// One alarm of one room: what trips it and how it is announced.
struct Alarm {
  Rule rule;
  Annunciation annunciation;
};

struct AlarmState {
  RuleState rule;
  Standing standing;
  std::optional<Simulation> test;
  /// What is shown comes from a test: from its annunciation until the alarm is normal again or the condition is real.
  bool simulated = false;
  Chatter chatter;
  friend bool operator==(const AlarmState&, const AlarmState&) = default;
};

/// Why a transition happened; goes into the journal.
enum class Cause {
  condition,
  returned,
  acknowledge,
  reset,
  re_annunciation,
  shelve,
  suppression,
  service,
  timer,
  test
};
[[nodiscard]] std::string_view name_of(Cause cause);

struct Transition {
  State from = State::normal;
  State to = State::normal;
  Cause cause = Cause::condition;
};

struct AlarmStep {
  AlarmState state;
  std::vector<Transition> transitions; ///< empty when the shown state did not change
  /// Changes hidden by a suppression: for the journal, marked as suppressed, and for nobody's attention.
  std::vector<Transition> beneath;
  bool test_ended = false; ///< in this step, in whatever way
};

/// The state of an alarm that has never been evaluated.
[[nodiscard]] AlarmState initial(const Alarm& alarm, Monotonic now);

/// Before an evaluation: an alarm that is not in force is suppressed by design. One of class "safety" never is, and is
/// left as it was; evaluate() sees to it.
[[nodiscard]] AlarmStep follow_regime(const Alarm& alarm, AlarmState state, bool in_force, Monotonic now);

/// One evaluation: rule, delays, then annunciation and timers. Pure; calling it twice with the same input and time
/// changes nothing the second time. A safety alarm that is not in force leaves off judging, so that what it has raised
/// ends as if the condition had: what is owed for it stays owed, and what latches stays latched.
/// @checked tests/alarms/graph_test.cpp walks every state that can be reached
[[nodiscard]] AlarmStep evaluate(const Alarm& alarm, AlarmState state, const RuleInput& in, Monotonic now);

/// An act of a person. A refusal leaves the state as it was.
[[nodiscard]] tl::expected<AlarmStep, Refusal> act(const Alarm& alarm, AlarmState state, const Demand& demand,
                                                   Monotonic now);

/// What is kept of an alarm over a restart or a reload. It acknowledges and clears nothing, keeps `since` (given as an
/// age), and leaves pending delays to start afresh. Silence is not kept: an unacknowledged alarm sounds again. Nor is a
/// test: what it has raised is then taken for real and ends by the real samples.
struct Recorded {
  State beneath = State::normal;
  bool present = false;
  bool tripped_while_suppressed = false;
  Monotonic age{0}; ///< how long ago the shown state was entered
  /// Absent: not shelved. Zero or less: shelved, but the time is over or cannot be known, so it ends at once and in the
  /// regular way, with a condition still present annunciated anew.
  std::optional<Monotonic> shelved_remaining{};
  bool shelved_once = false;
  std::optional<Monotonic> out_of_service_remaining{}; ///< as for shelving
};
/// A record that contradicts itself is read as the graver of its meanings. Shelving of an alarm that has become safety
/// class ends at once; remaining times are cut to what the settings allow today.
[[nodiscard]] AlarmState restored(const Alarm& alarm, const Recorded& recorded, Monotonic now);
/// Suppression by design is not recorded, since its logic decides anew after a restart. An acknowledged alarm beneath
/// it is recorded as unacknowledged, which is what the end of that suppression makes of it.
[[nodiscard]] Recorded recorded(const AlarmState& state, Monotonic now);

} // namespace oxherd::alarms
