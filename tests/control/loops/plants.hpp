#pragma once

#include <cmath>
#include <deque>

#include "control/duty.hpp"

// Plants of the textbooks, solved exactly for an input that stands over each interval.
namespace oxherd::control::plants {

/// Seconds from the start as the clock of the loops; whole milliseconds only.
inline Monotonic at_s(double time_s) { return Monotonic{std::llround(time_s * 1000.0)}; }

/// T dy/dt + y = K u
struct FirstOrder {
  double gain = 1.0;
  double time_constant_s = 1.0;
  double value = 0.0;
  double step(double input, double passed_s) {
    const double kept = std::exp(-passed_s / time_constant_s);
    value = kept * value + (1.0 - kept) * gain * input;
    return value;
  }
};

/// The same behind a dead time of a whole number of intervals.
struct DeadTime {
  FirstOrder plant;
  std::deque<double> on_the_way; ///< as many zeros as there are intervals
  double step(double input, double passed_s) {
    on_the_way.push_back(input);
    const double arrived = on_the_way.front();
    on_the_way.pop_front();
    return plant.step(arrived, passed_s);
  }
};

/// 1 / (s + 1)^3
struct ThreeLags {
  double first = 0.0, second = 0.0, third = 0.0;
  double step(double input, double passed_s) {
    // Distances from the rest at this input; the chain's matrix exponential.
    const double a = first - input, b = second - input, c = third - input;
    const double kept = std::exp(-passed_s);
    first = input + kept * a;
    second = input + kept * (b + passed_s * a);
    third = input + kept * (c + passed_s * b + 0.5 * passed_s * passed_s * a);
    return third;
  }
};

} // namespace oxherd::control::plants
