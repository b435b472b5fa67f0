#pragma once

#include <array>
#include <cstdint>
#include <optional>

#include "alarms/rules/rule_input.hpp"
#include "alarms/time.hpp"

namespace oxherd::alarms {

enum class Direction { low, high };

/// A limit on one quantity, judged at the unfavourable end of the interval: low trips at value - k u <= limit and
/// clears only above limit + deadband; high is the mirror image. Numbers are in the unit of the channel's value.
struct Limit {
  Direction direction = Direction::low;
  double limit = 0.0;
  double deadband = 0.0;
  Monotonic on_delay{0};
  Monotonic off_delay{0};
};

/// Phases of the decided condition (delays are ours; the annunciation states lie above this).
enum class Phase { clear, pending, present, returning };

struct LimitState {
  Phase phase = Phase::clear;
  Monotonic since{0};            ///< start of the running delay, or when the phase was entered
  std::array<bool, 3> tripped{}; ///< each channel's own decision with its deadband
  friend bool operator==(const LimitState &, const LimitState &) = default;
};

struct LimitStep {
  LimitState state;
  Decision decision = Decision::hold;
};

/// One step of the condition. Rules: the trip must hold without a break for on_delay; a good or uncertain sample not
/// beyond the limit (even inside the deadband) restarts it; bad data neither cancels a running on-delay, nor trips by
/// itself in 1oo1, nor clears, nor starts or continues an off-delay; delays end by the clock, not at the next sample.
[[nodiscard]] LimitStep next(const Limit &rule, LimitState state, const RuleInput &in, Monotonic now);

/// The state after a restart: present stays present until good samples outlast the off-delay, pending starts afresh.
[[nodiscard]] LimitState restored(bool was_present, Monotonic now);

} // namespace oxherd::alarms
