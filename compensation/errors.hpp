#pragma once

#include <string>

namespace oxherd::compensation {

/// A value outside the span that an equation covers (SI units; NaN counts as outside).
struct RangeError {
  double value = 0.0;
  double low = 0.0;
  double high = 0.0;
};

/// Why no reading could be formed: `what` names the input in a person's words and says what would be accepted.
struct ReadingError {
  std::string what;
};

} // namespace oxherd::compensation
