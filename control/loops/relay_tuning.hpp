#pragma once

#include <array>
#include <optional>
#include <string_view>
#include <vector>

#include "control/duty.hpp"
#include "control/loops/pid.hpp"

namespace oxherd::control {

/// An experiment that makes a loop swing a little around its set-point, to learn how it must be tuned: the output goes
/// to one of two levels, as the value is below or above the set-point.
/// @source Åström, Hägglund, "Automatic tuning of simple regulators with specifications on phase and amplitude
/// margins",
///         Automatica 20 (1984) 645-651, from memory
struct RelayTuning {
  Effect effect = Effect::raises;
  double set_point = 0.0;
  double hysteresis = 0.0; ///< on each side of the set-point, in its unit; must exceed the noise
  double output_low = 0.0; ///< the two levels; they need not lie evenly around the output that holds the set-point
  double output_high = 1.0;
  double value_low = 0.0; ///< the value leaving these limits ends the experiment
  double value_high = 0.0;
  Monotonic longest{std::chrono::hours{2}}; ///< it ends after that
  int periods_agreeing = 3;                 ///< so many at a stretch are a steady oscillation ...
  double tolerance = 0.05;                  ///< ... when their lengths and swings lie within this share of their mean
  int periods_most = 20;                    ///< it does not settle when so many do not do
};

/// What is wrong with the parameters, as words; empty: nothing. `next` takes only such parameters.
[[nodiscard]] std::string_view problem_of(const RelayTuning& rule);

struct RelayInput {
  std::optional<double> value; ///< empty: bad
  bool uncertain = false;
  bool ended_by_person = false;
};

/// How an experiment stands.
enum class RelayPhase {
  running,
  finished,
  value_left_limits,
  took_too_long,
  does_not_settle,
  value_bad,
  value_uncertain,
  ended_by_person
};
/// What a person reads of it: "the oscillation did not become steady".
[[nodiscard]] std::string_view words_of(RelayPhase phase);

/// One full swing, from one rise of the relay to the next.
struct RelayPeriod {
  double length_s = 0.0;
  double swing = 0.0;    ///< greatest less least value
  double on_share = 0.0; ///< of the length, with the upper output
  friend bool operator==(const RelayPeriod&, const RelayPeriod&) = default;
};

struct RelayState {
  RelayPhase phase = RelayPhase::running;
  std::optional<Monotonic> began{};   ///< empty: the experiment begins with the next step
  bool high = false;                  ///< the relay
  std::optional<Monotonic> rose{};    ///< last time that the relay went up; empty: not yet
  Monotonic fell{0};                  ///< last time that it went down
  double least = 0.0, greatest = 0.0; ///< value since it last went up
  int periods = 0;                    ///< completed
  std::vector<RelayPeriod> last{};    ///< the last ones, no more than periods_agreeing
  Monotonic ended{0};
  friend bool operator==(const RelayState&, const RelayState&) = default;
};

struct RelayStep {
  RelayState state;
  std::optional<double> output; ///< empty: the experiment is over, whatever held the loop before holds it again
};

/// One step. The last swings are steady when their lengths and their heights agree within the tolerance.
/// A bad or uncertain value ends the experiment at once: nothing watches the swing then.
/// @checked tests/control/loops/relay_tuning_test.cpp
[[nodiscard]] RelayStep next(const RelayTuning& rule, RelayState state, const RelayInput& in, Monotonic now);

/// What was found, mean of the steady swings.
struct Ultimate {
  double gain = 0.0; ///< Ku, output per unit of the value: with it a proportional controller would just swing for ever
  double period_s = 0.0; ///< Pu
  double swing = 0.0;    ///< greatest less least value
  double on_share = 0.0; ///< of the time, with the upper output
  /// About what the room needs at the set-point; a second experiment is best centred on it.
  double output_mean = 0.0;
  /// The levels lay so badly around that need that the period is more than some 10 % too long.
  [[nodiscard]] bool is_lopsided() const { return on_share < 1.0 / 3.0 || on_share > 2.0 / 3.0; }
};

/// Empty until the experiment is finished.
///
///     Ku = 4 d / (pi sqrt(a^2 - e^2))
///
/// with d half the distance of the two outputs, a half the swing and e the hysteresis. It takes the value for a sine.
/// What that does is worked out in the tests. Even levels, no hysteresis: three lags in a row, gain 2 % too low, period
/// 1 % too long; one lag with dead time, gain between 19 % too low (short dead time) and 27 % too high (dead time
/// alone), period up to 5 % too short. Uneven levels lengthen the period, and hardly touch the gain until they are
/// lopsided. Hysteresis lowers the gain and lengthens the period, for three lags by 16 % and 8 % when it is a tenth of
/// half the swing: it should be small beside the swing, and the levels far enough apart for that. So the gain is on the
/// cautious side but for a plant that is hardly more than a dead time (over 2.4 times its lag).
[[nodiscard]] std::optional<Ultimate> ultimate_of(const RelayTuning& rule, const RelayState& state);

/// Published rules that propose parameters from ultimate gain and period.
enum class TuningRule { cautious_pi, cautious_pid, quick_p, quick_pi, quick_pid };
inline constexpr std::array all_tuning_rules{TuningRule::cautious_pi, TuningRule::cautious_pid, TuningRule::quick_p,
                                             TuningRule::quick_pi, TuningRule::quick_pid};
/// The one to propose first: little overshoot, and room for a plant that changes (a full store, an open door).
inline constexpr TuningRule tuning_by_default = TuningRule::cautious_pi;

/// What a rule is, for the person who chooses.
[[nodiscard]] std::string_view words_of(TuningRule rule);

struct Proposal {
  TuningRule rule = tuning_by_default;
  double gain = 0.0;
  std::optional<double> integral_time_s{};
  double derivative_time_s = 0.0;
};

/// @source quick: Ziegler, Nichols, "Optimum settings for automatic controllers", Trans. ASME 64 (1942) 759-768;
///         cautious: Tyreus, Luyben, "Tuning PI controllers for integrator/dead time processes", Ind. Eng. Chem. Res.
///         31 (1992) 2625-2628, with the PID extension by Luyben that is quoted with it; all from memory
[[nodiscard]] Proposal proposal_of(TuningRule rule, const Ultimate& ultimate);

/// The controller with the proposed parameters; all else stays as it is.
[[nodiscard]] Pid tuned(Pid controller, const Proposal& proposal);

} // namespace oxherd::control
