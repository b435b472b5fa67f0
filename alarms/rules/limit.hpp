#pragma once

#include <array>
#include <utility>

#include "alarms/rules/delays.hpp"
#include "alarms/rules/standing_value.hpp"
#include "alarms/rules/step.hpp"
#include "alarms/time.hpp"

namespace oxherd::alarms {

/// A limit on one quantity, judged at the unfavourable end of the interval: low trips at value - k u <= limit and
/// clears only above limit + deadband; high is the mirror image. Numbers are in the unit of the channel's value.
struct Limit {
  Direction direction = Direction::low;
  double limit = 0.0;
  double deadband = 0.0;
  Monotonic on_delay{0};
  Monotonic off_delay{0};
};

struct LimitState {
  Phase phase = Phase::clear;
  Monotonic since{0};            ///< start of the running delay, or when the phase was entered
  std::array<bool, 3> tripped{}; ///< each channel's own decision with its deadband
  friend bool operator==(const LimitState&, const LimitState&) = default;
};

/// One step of the condition. The trip must hold without a break for on_delay; a good or uncertain sample not beyond
/// the limit (even inside the deadband) restarts it. Delays end by the clock, not at the next sample; a delay of zero
/// acts in the same step.
///
/// Bad data in 1oo1 neither trips nor clears, leaves a running on-delay running and sends an off-delay back to its
/// start. With several channels the vote has its degraded modes (voting.hpp), and these readings were chosen as the
/// safer ones:
/// - Before the trip, a channel inside its deadband keeps its own decision. The vote counts it as tripped as long as at
///   least one other channel is beyond the limit now; alone, it starts and continues no on-delay.
/// - After the trip, a channel inside its deadband always votes against clearing: any sample back inside restarts the
///   off-delay.
/// - A channel that turns bad while tripped still counts as tripped for continuing an on-delay and against clearing,
///   until a good sample of its own lies beyond the deadband: gas that kills a cell must not end its alarm.
/// @checked tests/alarms/limit_test.cpp, tests/alarms/walk_test.cpp and the second model, tests/alarms/model.py
[[nodiscard]] Step<LimitState> next(const Limit& rule, LimitState state, const RuleInput& in, Monotonic now);

/// Where the unfavourable end of an interval lies, seen from a limit.
enum class Reach { bad, awaited, beyond_limit, inside_deadband, clear };
[[nodiscard]] Reach reach_of(const Limit& rule, const Channel& channel);

/// One step for one derived number (a rate, an average) that its rule has placed already: judged as the only channel
/// of 1oo1, so `bad` holds the decision and goes on with a running on-delay.
[[nodiscard]] Step<LimitState> next_placed(const Limit& rule, LimitState state, Reach reach, Monotonic now);

/// The same for a rule whose state is that of its limit and more.
template <class State>
[[nodiscard]] Step<State> held_against(const Limit& limit, State state, Reach reach, Monotonic now) {
  const auto after = next_placed(limit, state, reach, now);
  static_cast<LimitState&>(state) = after.state;
  return {std::move(state), after.decision};
}

/// What each channel had decided is not recorded: in a present condition all count as tripped until a good sample.
[[nodiscard]] LimitState restored(const Limit& rule, bool was_present, Monotonic now);
[[nodiscard]] Delays delays_of(const Limit& rule);
[[nodiscard]] std::optional<Channel> value_of(const Limit& rule, const LimitState& state, const RuleInput& in);
[[nodiscard]] std::optional<double> limit_of(const Limit& rule);

} // namespace oxherd::alarms
