#pragma once

#include <string>

namespace oxherd::daemon {

/// A value and its expanded uncertainty, in one unit.
struct WithExpanded {
  double value = 0.0;
  double expanded = 0.0;
};

/// Both as text that claims no more than is known.
struct RoundedTexts {
  std::string value;
  std::string expanded; ///< empty when there is none
};

/// The uncertainty with two significant digits, the value to the same digit. Without an uncertainty the value has six
/// significant digits.
/// @source GUM (JCGM 100:2008), 7.2.6
/// @checked tests/daemon/calibration/certificate_test.cpp
[[nodiscard]] RoundedTexts rounded(WithExpanded quantity);

/// "12.600 ± 0.020", or the value alone where there is no uncertainty.
[[nodiscard]] std::string with_expanded(WithExpanded quantity);

} // namespace oxherd::daemon
