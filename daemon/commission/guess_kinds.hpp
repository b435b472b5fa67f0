#pragma once

#include <array>
#include <span>
#include <string_view>

#include "compensation/units.hpp"
#include "config/settings.hpp"

namespace oxherd::daemon::commission {

struct NumberSpan {
  double low, high;
  [[nodiscard]] bool holds(double value) const { return value >= low && value <= high; } // false for NaN
};

/// Scales by which devices make whole numbers of a value.
inline constexpr std::array<double, 4> scales{1.0, 0.1, 0.01, 0.001};
/// Points of a scale that nobody uses for a kind.
inline constexpr double never = -100.0;

/// What a number in registers may be: a measurand in one unit, and what a value of it looks like in a room's air. The
/// spans narrow down; points add up, a point being worth about a factor of two in likelihood.
struct GuessKind {
  config::Measurand measurand;
  std::string_view unit; ///< as a profile writes it
  NumberSpan typical;
  double typical_points;
  std::string_view typical_because; ///< "fresh air has this", of a value in the span `typical`
  NumberSpan likely;
  NumberSpan possible;
  double change_max_per_s; ///< more than that is no measurement of a room
  std::array<double, scales.size()> scale_points;
  bool as_whole_number = true; ///< false: as floating point only
};

/// Every kind. Spans and points are proposals of the project.
[[nodiscard]] std::span<const GuessKind> guess_kinds();
[[nodiscard]] compensation::Unit unit_of(const GuessKind& kind);

} // namespace oxherd::daemon::commission
