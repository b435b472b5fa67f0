#pragma once

#include <optional>
#include <string_view>

#include "control/duty.hpp"

namespace oxherd::control {

/// A controller with proportional, integral and derivative action and two degrees of freedom:
///
///     output = K (b r - y)  +  integral of K (r - y) / Ti  +  K Td d/dt (c r - y), filtered by Td / N  +  feed-forward
///
/// with set-point r, value y, and K counted negative for an actuator that lowers the value. In SI units; the output is
/// usually a duty or an opening of 0 to 1.
/// @source Åström, Hägglund, "Advanced PID Control" (ISA 2006), chapters 3 and 13, from memory
struct Pid {
  Effect effect = Effect::raises;
  double gain = 1.0;                       ///< K, output per unit of the value, above zero
  std::optional<double> integral_time_s{}; ///< Ti; empty: no integral action, `bias` stands in its place
  double derivative_time_s = 0.0;          ///< Td; zero: none
  double derivative_filter = 10.0;         ///< N; common practice is 2 to 20
  double set_point_weight = 1.0;           ///< b; below 1 overshoots less after a step of the set-point
  double derivative_weight = 0.0;          ///< c; zero: a step of the set-point gives no kick
  double bias = 0.0;                       ///< output at the set-point without integral action
  double output_low = 0.0;
  double output_high = 1.0;
  std::optional<double> rate_most_per_s{}; ///< of the output, both ways
  /// Anti-windup: how fast the integral goes back while a limit holds the output. Empty: Ti, with derivative action
  /// sqrt(Ti Td). Infinity: no anti-windup.
  std::optional<double> tracking_time_s{};
  /// A longer gap between two values is not integrated over, and the derivative begins anew (common practice).
  Monotonic sample_most{std::chrono::minutes{1}};
  friend bool operator==(const Pid&, const Pid&) = default;
};

/// What is wrong with the parameters, as words; empty: nothing. `next` takes only such parameters.
[[nodiscard]] std::string_view problem_of(const Pid& rule);

struct PidInput {
  double value = 0.0;
  double set_point = 0.0;
  double feed_forward = 0.0;
  bool uncertain = false;          ///< the integral stands still
  std::optional<double> by_hand{}; ///< the output that a person, or the safe state, sets
};

/// One accepted value and what went with it.
struct PidSample {
  double value = 0.0;
  double set_point = 0.0;
  bool uncertain = false;
  Monotonic at{0};
  friend bool operator==(const PidSample&, const PidSample&) = default;
};

struct PidState {
  double integral = 0.0;          ///< in the unit of the output
  double derivative = 0.0;        ///< likewise
  std::optional<double> output{}; ///< the last one; empty: none yet
  Monotonic output_at{0};
  double cut = 0.0; ///< what the limits took from the last output (output less the sum of the parts)
  std::optional<PidSample> last{};
  /// The next automatic output is to be the last output: the integral takes up the difference.
  bool joins = false;
  std::optional<Pid> in_force{}; ///< the parameters of the last step, to change them without a bump
  friend bool operator==(const PidState&, const PidState&) = default;
};

/// The state of a loop that goes on from an output already there, as after a restart, without a bump.
[[nodiscard]] PidState going_on_from(double output, Monotonic now);

/// The sum that made an output, to explain it; all but the last before the limits.
struct PidParts {
  double proportional = 0.0;
  double integral = 0.0;
  double derivative = 0.0;
  double feed_forward = 0.0;
  double cut = 0.0; ///< what limits and rate took away; zero: nothing
};

struct PidStep {
  PidState state;
  std::optional<double> output; ///< empty: the input was no finite number, and the state is the old one
  PidParts parts{};             ///< all zero by hand and when there is no output
};

/// One step. The time between steps may vary and may be zero.
///
/// *Between samples* the value is taken to run straight and the set-point to stand; integral and filtered derivative
/// are exact for that, whatever the interval (ramp-invariant discretisation).
/// *Limits*: first output_low and output_high, then the rate. What they take away drives the integral back
/// (back-calculation) with the tracking time; the integral never jumps.
/// *By hand* the output goes through the same limits, and needs no value. The first automatic output after it is the
/// last one by hand. A change of parameters by itself moves nothing either: the integral takes up the difference.
/// Without integral action nothing can, and only the rate limit softens the bump.
/// *Uncertain* at either end of an interval: nothing is integrated over it, nor driven back.
/// *Not a finite number*: refused. A gap longer than sample_most after that is not integrated over.
/// @checked tests/control/loops/pid_test.cpp, pid_loop_test.cpp
[[nodiscard]] PidStep next(const Pid& rule, PidState state, const PidInput& in, Monotonic now);

} // namespace oxherd::control
