#pragma once

#include <optional>
#include <string>

#include "config/settings.hpp"
#include "control/actuator.hpp"
#include "daemon/control/loop_performance.hpp"
#include "daemon/control/loop_tuning.hpp"
#include "daemon/control/process_value.hpp"
#include "daemon/reading_basis.hpp"

namespace oxherd::daemon {

/// What a loop is shown at one evaluation.
struct LoopInput {
  ProcessReading reading;
  control::Truth lights = control::Truth::not_fitted;
  /// The output that a person sets: the controller follows, so that it takes over without a bump. Empty: none does.
  std::optional<double> decided_by_others{};
  bool stands_by = false; ///< an interlock or a safe state decides: nothing is learned meanwhile
};

/// One loop at work: program, controller and pulses, and what they said last. A value type; time comes in.
class LoopRun {
public:
  LoopRun(config::Loop settings, control::Locality locality);

  /// One evaluation. Controllers step no more often than the settings say; between steps the last output holds.
  /// @return empty: nothing is to be held, nobody has started the program
  [[nodiscard]] std::optional<control::Wish> evaluate(const LoopInput& in, Monotonic now, WallTime wall);

  [[nodiscard]] const config::Loop& settings() const { return settings_; }
  [[nodiscard]] const ProcessReading& reading() const { return reading_; }
  [[nodiscard]] std::optional<double> set_point() const { return set_point_; } ///< SI, at the last evaluation
  [[nodiscard]] const control::ProgramOutput& program() const { return program_; }
  [[nodiscard]] const control::PidParts& parts() const { return parts_; }
  [[nodiscard]] double demand() const { return demand_; } ///< 0 to 1, before it is made into pulses

  /// Begins a tuning experiment; why not, in words, or empty: done.
  [[nodiscard]] std::string begin_tuning(const TuningOrder& order, Monotonic now);
  void end_tuning(std::string why, Monotonic now);
  [[nodiscard]] bool is_tuned() const { return tuning_ && tuning_->running(); }
  [[nodiscard]] const std::optional<LoopTuning>& tuning() const { return tuning_; } ///< that runs, or the last one

  /// What became of the last evaluation: whether the loop decided, and what its device is told. For the report alone.
  void see(bool decides, double driven, Monotonic now);
  [[nodiscard]] const LoopPerformance& performance() const { return performance_; }
  void begin_report(const std::string& by, Monotonic now) { performance_.begin_anew(by, now); }

  /// Acts on the program; false where the loop has none, or none of that kind.
  enum class ProgramAct { start, stop, hold, resume };
  [[nodiscard]] bool act(ProgramAct act, std::optional<Monotonic> duration, Monotonic now);
  [[nodiscard]] const control::ProgramState& program_state() const { return program_.state; }
  void restore(control::ProgramState state, std::optional<Monotonic> outage, Monotonic now);
  /// Goes on as the loop before did, over a reload that left its settings as they were. A tuning experiment does not.
  void continue_from(const LoopRun& before, Monotonic now);

private:
  void follow_program(Monotonic now, WallTime wall);
  [[nodiscard]] std::optional<double> output_of(const LoopInput& in, Monotonic now);
  [[nodiscard]] std::optional<control::Wish> tune(Monotonic now); ///< empty: the experiment is over
  void go_on_after_tuning();

  config::Loop settings_;
  control::Locality locality_;
  control::OnOffState on_off_{};
  control::PidState pid_{};
  control::TimeProportionedState pulses_{};
  control::ProgramOutput program_{};
  control::PidParts parts_{};
  ProcessReading reading_{};
  std::optional<double> set_point_{};
  std::optional<Monotonic> stepped_{};
  std::optional<LoopTuning> tuning_{};
  LoopPerformance performance_;
  double demand_ = 0.0;
};

} // namespace oxherd::daemon
