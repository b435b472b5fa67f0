#include "daemon/calibration/check.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/core.h>

#include "daemon/calibration/wording.hpp"

namespace oxherd::daemon {

bool CheckedPoint::is_close_call() const { return std::abs(std::abs(error) - tolerance) < expanded; }

CheckOutcome outcome_of(const CalibrationRecord& check, const CheckTolerance& tolerance) {
  constexpr double coverage = 2.0;
  CheckOutcome outcome;
  for (const auto& point : check.points) {
    if (!point.as_found) continue;
    CheckedPoint found{.gas = point.gas.kind,
                       .reference = point.gas.oxygen.value.si(),
                       .error = point.as_found->value.si() - point.gas.oxygen.value.si(),
                       .expanded = coverage * std::hypot(point.as_found->u_si, point.gas.oxygen.u_si),
                       .tolerance = tolerance.at(point.gas.kind)};
    // A reading at the tolerance itself passes; 1e-12 is the rounding of subtracting two decimals.
    found.passed = std::abs(found.error) <= found.tolerance + 1e-12; // false for NaN
    outcome.points.push_back(found);
  }
  outcome.passed = !outcome.points.empty() && std::all_of(outcome.points.begin(), outcome.points.end(),
                                                          [](const auto& point) { return point.passed; });
  return outcome;
}

std::string describe(const CheckedPoint& point) {
  return fmt::format("in {} of {} % it reads {:.2f} % (error {:+.2f} % O2, U {:.2g} %, tolerance ± {:.2g} % O2): {}{}",
                     words_for(point.gas), percent_text(point.reference), (point.reference + point.error) * 100.0,
                     point.error * 100.0, point.expanded * 100.0, point.tolerance * 100.0,
                     point.passed ? "passed" : "failed",
                     point.is_close_call() ? ", within its uncertainty of the tolerance" : "");
}

} // namespace oxherd::daemon
