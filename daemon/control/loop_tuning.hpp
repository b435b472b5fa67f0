#pragma once

#include <optional>
#include <string>
#include <string_view>

#include <tl/expected.hpp>

#include "config/settings.hpp"
#include "control/actuator.hpp"
#include "control/loops/relay_tuning.hpp"
#include "daemon/control/process_value.hpp"

namespace oxherd::daemon {

/// What a person orders of a tuning experiment.
struct TuningOrder {
  enum class Act { begin, end };
  Act act = Act::end;
  std::string low{}, high{}; ///< limits of the value with their unit, "18 degC"; must be given
  std::string hysteresis{};  ///< to each side of the set-point, "0.1 K"; empty: by the value, see config::LoopValue
  struct Levels {            ///< of the output, 0 to 1
    double low = 0.0, high = 1.0;
  };
  /// Empty: evenly around the output of now as far as the loop's settings let it go; where that leaves less than a
  /// fifth, those settings themselves (proposal of the project). A coil goes from 0 to 1.
  std::optional<Levels> output{};
  std::optional<control::Monotonic> longest{}; ///< empty: that of control::RelayTuning
  std::string by{}, because{};
};
/// Longest experiment: as long as a person may hold an output, since it too takes the loop off its controller.
inline constexpr control::Monotonic tuning_at_most = control::hold_at_most;

/// A loop at the moment at which it is to be tuned.
struct LoopNow {
  ProcessReading reading;
  std::optional<double> set_point;
  double output = 0.0; ///< of the controller
};

/// An experiment that a person has begun, and what came of it. A value type; time comes in.
struct LoopTuning {
  control::RelayTuning rule;
  std::string by, because;
  Monotonic since{0};
  /// What the controller goes on from when it is over: its output before, or the mean of the last whole swing. Either
  /// level by itself would throw the room far off.
  double goes_on_from = 0.0;
  control::RelayState state{};
  std::optional<Monotonic> ended{}; ///< empty: it runs
  std::string outcome{};            ///< what ended it, in words

  [[nodiscard]] bool running() const { return !ended; }
  /// One evaluation. @return the output; empty: it is over, and `outcome` says why
  [[nodiscard]] std::optional<double> step(const ProcessReading& reading, std::optional<double> set_point,
                                           Monotonic now);
  void end(std::string why, Monotonic now);
};

/// The experiment of an order to begin one, or why there is none, in words that say what to do.
[[nodiscard]] tl::expected<LoopTuning, std::string> tuning_of(const config::Loop& loop, const LoopNow& at,
                                                              const TuningOrder& order, Monotonic now);

/// "between 18.0 °C and 26.0 °C, output 0 % or 70 %, for 2 h at most".
[[nodiscard]] std::string words_of(const LoopTuning& tuning, control::ProcessValue holds);

/// Why an actuator is tuned by nobody, in words; empty: it may be.
[[nodiscard]] std::string never_tuned(control::Duty duty);

/// A name for programs: "cautious-pi".
[[nodiscard]] std::string_view name_of(control::TuningRule rule);
/// A proposal as a person writes it into the settings of the loop: `proportional_band = "2.40 K", ...`.
[[nodiscard]] std::string settings_text(const control::Proposal& proposal, control::ProcessValue holds);
/// What a finished experiment found and proposes by the default rule; empty unless it is finished.
[[nodiscard]] std::string found_text(const LoopTuning& tuning, control::ProcessValue holds);

} // namespace oxherd::daemon
