#pragma once

#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include <tl/expected.hpp>

#include "alarms/annunciation.hpp"
#include "alarms/rules/limit.hpp"
#include "alarms/rules/not_monitored.hpp"

namespace oxherd::alarms {

/// Every kind of rule; adding one adds a row here and in rules/catalogue.cpp.
using Rule = std::variant<Limit, NotMonitored>;
using RuleState = std::variant<LimitState, NotMonitoredState>;

/// One alarm of one room: what trips it and how it is announced.
struct Alarm {
  Rule rule;
  Annunciation annunciation;
};

struct AlarmState {
  RuleState rule;
  Standing standing;
  friend bool operator==(const AlarmState &, const AlarmState &) = default;
};

/// Why a transition happened; goes into the journal.
enum class Cause { condition, returned, acknowledge, reset, re_annunciation, shelve, suppression, service, timer };
[[nodiscard]] std::string_view name_of(Cause cause);

struct Transition {
  State from = State::normal;
  State to = State::normal;
  Cause cause = Cause::condition;
};

struct AlarmStep {
  AlarmState state;
  std::vector<Transition> transitions; ///< empty when the shown state did not change
};

/// The state of an alarm that has never been evaluated.
[[nodiscard]] AlarmState initial(const Alarm &alarm, Monotonic now);

/// One evaluation: rule, delays, then annunciation and timers. Pure; calling it twice with the same input and time
/// changes nothing the second time.
[[nodiscard]] AlarmStep evaluate(const Alarm &alarm, AlarmState state, const RuleInput &in, Monotonic now);

/// An act of a person. A refusal leaves the state as it was.
[[nodiscard]] tl::expected<AlarmStep, Refusal> act(const Alarm &alarm, AlarmState state, Act act, Monotonic now);

/// State after a restart or a reload from what was recorded: acknowledges and clears nothing, keeps `since` (given as
/// an age), leaves pending delays to start afresh. A shelving of which the remaining time is unknown ends.
struct Recorded {
  State beneath = State::normal;
  bool present = false;
  bool tripped_while_suppressed = false;
  Monotonic age{0}; ///< how long ago the shown state was entered
  std::optional<Monotonic> shelved_remaining;
  std::optional<Monotonic> out_of_service_remaining;
};
[[nodiscard]] AlarmState restored(const Alarm &alarm, const Recorded &recorded, Monotonic now);
[[nodiscard]] Recorded recorded(const AlarmState &state, Monotonic now);

} // namespace oxherd::alarms
