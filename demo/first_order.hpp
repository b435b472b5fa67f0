#pragma once

#include <cmath>
#include <deque>

namespace oxherd::demo {

/// The solution of dx/dt = source - rate x after a step over which both are constant. Exact, so the length of the step
/// is no source of error.
[[nodiscard]] inline double after_constant(double before, double source_per_s, double rate_per_s, double dt_s) {
  const double x = rate_per_s * dt_s;
  const double left = std::exp(-x);
  // (1 - e^-x)/x loses its digits near zero and is 0/0 at zero: expm1 keeps them.
  const double mean = x > 1e-12 ? -std::expm1(-x) / x : 1.0;
  return before * left + source_per_s * dt_s * mean;
}

/// Gives back what it was given a fixed time ago: the way of warmed air or of a dosed gas through a duct.
class DeadTime {
public:
  /// @param at_rest  what it gives until the first input has come through
  explicit DeadTime(double delay_s, double at_rest = 0.0) : delay_s_{delay_s}, last_in_{at_rest}, out_{at_rest} {}
  /// @param input  from the step that ends at `now_s` on
  /// @return what acts over that step
  double after(double input, double now_s) {
    if (input != last_in_) under_way_.push_back({now_s + delay_s_, input});
    last_in_ = input;
    for (; !under_way_.empty() && under_way_.front().due_s <= now_s; under_way_.pop_front())
      out_ = under_way_.front().value;
    return out_;
  }

private:
  struct Change {
    double due_s;
    double value;
  };
  double delay_s_;
  double last_in_;
  double out_;
  std::deque<Change> under_way_;
};

} // namespace oxherd::demo
