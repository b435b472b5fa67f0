#pragma once

#include <string_view>

#include "config/table_reader.hpp"
#include "control/duty.hpp"

namespace oxherd::config {

/// What a set-point of a value can be, what a distance from it, and how far it may be left by default.
struct LoopValue {
  QuantityRule set_point, distance;
  double on_beyond = 0.0;   ///< SI; common practice for hysteresis, no source
  double band = 0.0;        ///< proportional; proposal of the project: eight times as wide, to be tuned
  std::string_view example; ///< as in the file, with its quotes
  /// What a reading moves by while the air does not: a fifth of `on_beyond`, proposal of the project.
  [[nodiscard]] double noise() const { return 0.2 * on_beyond; }
};
[[nodiscard]] LoopValue loop_value(control::ProcessValue value);

} // namespace oxherd::config
