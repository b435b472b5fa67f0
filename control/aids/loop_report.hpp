#pragma once

#include <optional>

#include "alarms/time.hpp"
#include "control/aids/loop_watches.hpp"

namespace oxherd::control {

using alarms::Monotonic;

/// A loop at one moment. What is missing or not finite is not judged. Set-point and output hold until the next
/// sample, the value is taken as straight between two.
struct LoopSample {
  Monotonic at{0};
  std::optional<double> set_point{};
  std::optional<double> value{};
  double output = 0;
  bool automatic = false;
};

/// What the figures are held against; values in the unit of the process value.
struct LoopReportSettings {
  double band = 0;              ///< to each side of the set-point
  double step_least = 0;        ///< a set-point that moves by so much at once has stepped; 0: none is looked for
  double settled_within = 0.02; ///< of the step, to each side (common practice)
  double output_low = 0;
  double output_high = 1; ///< above output_low
  bool switched = false;  ///< on and off only: it is always at a limit, which then says nothing
  Monotonic gap_most{60'000};
  OscillationSettings oscillation{};
  IdleWatch::Settings idle{};
};

/// How a loop performed. Shares are ratios. Empty: nothing was seen that tells it.
struct LoopReport {
  double observed_s = 0; ///< between samples without a gap
  double gaps_s = 0;
  long refused = 0;    ///< samples not later than the one before, or with an output that is not finite
  double judged_s = 0; ///< in automatic, with value and set-point: what the error figures rest on
  std::optional<double> automatic_share{};
  std::optional<double> error_mean{}; ///< set-point less value
  std::optional<double> error_sd{};
  std::optional<double> within_band_share{};
  std::optional<double> absolute_error{}; ///< IAE an hour: integral of |error| over judged time, in hours of both
  std::optional<double>
      late_absolute_error{};                ///< ITAE an hour: |error| times the hours since the last step or the start
  std::optional<double> switchings_per_h{}; ///< off to on and on to off
  std::optional<double> on_share{};         ///< above the middle of its span
  double longest_run_s = 0;
  double output_travel = 0;            ///< sum of all its moves, in spans
  std::optional<double> limit_share{}; ///< of judged time, at a limit of the output
  std::optional<StepFigures> step{};   ///< after the last step of the set-point
  Oscillation oscillation{};
  std::optional<double> idle_index{}; ///< see IdleWatch
};

/// Takes samples one by one, live or from a record, in constant memory.
/// @checked tests/control/aids/loop_report_test.cpp: closed forms of sine, first and second order
class LoopRecord {
public:
  explicit LoopRecord(const LoopReportSettings& settings);
  void add(LoopSample sample);
  [[nodiscard]] LoopReport report() const;

private:
  [[nodiscard]] bool is_on(double output) const;
  void add_output(double before, double now, double length_s);
  void add_error(const Piece& error, double output);
  void interrupt();
  void look_for_step(const Piece& set_point, double value);

  LoopReportSettings settings_;
  std::optional<LoopSample> last_{};
  Monotonic first_at_{0};
  double origin_s_ = 0; ///< of the time that late errors are multiplied with
  double observed_s_ = 0, gaps_s_ = 0, automatic_s_ = 0, judged_s_ = 0;
  long refused_ = 0, switchings_ = 0;
  double offset_ = 0, sum_ = 0, squares_ = 0; ///< of the error less its first value, so that squares keep their digits
  double within_s_ = 0, absolute_ = 0, late_ = 0, limit_s_ = 0;
  double on_s_ = 0, run_s_ = 0, longest_run_s_ = 0, travel_ = 0;
  StepWatch step_;
  OscillationWatch oscillation_;
  IdleWatch idle_;
};

} // namespace oxherd::control
