#include "daemon/calibration/rounding.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/core.h>

namespace oxherd::daemon {
namespace {

/// To so many decimals; a negative count rounds to tens, hundreds, ... No "-0.00".
std::string to_decimals(double value, int decimals) {
  const double step = std::pow(10.0, -std::min(decimals, 0));
  std::string text = fmt::format("{:.{}f}", std::round(value / step) * step, 0);
  if (decimals >= 0) text = fmt::format("{:.{}f}", value, decimals);
  if (text.front() == '-' && text.find_first_not_of("-0.") == std::string::npos) text.erase(0, 1);
  return text;
}

} // namespace

RoundedTexts rounded(WithExpanded quantity) {
  const bool has_uncertainty = quantity.expanded > 0.0 && std::isfinite(quantity.expanded);
  if (!has_uncertainty || !std::isfinite(quantity.value)) return {fmt::format("{:.6g}", quantity.value), ""};
  constexpr int most = 12; // decimals: more are noise of the computation
  int decimals = 1 - static_cast<int>(std::floor(std::log10(quantity.expanded)));
  // 0.0996 becomes 0.10, not 0.100: rounding may carry into the next digit.
  if (std::round(quantity.expanded * std::pow(10.0, decimals)) >= 100.0) --decimals;
  decimals = std::min(decimals, most);
  return {to_decimals(quantity.value, decimals), to_decimals(quantity.expanded, decimals)};
}

std::string with_expanded(WithExpanded quantity) {
  const auto texts = rounded(quantity);
  return texts.expanded.empty() ? texts.value : fmt::format("{} ± {}", texts.value, texts.expanded);
}

} // namespace oxherd::daemon
