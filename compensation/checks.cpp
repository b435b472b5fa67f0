#include "compensation/checks.hpp"

#include <cmath>

#include <fmt/format.h>

namespace oxherd::compensation {

namespace {

std::string number_text(double value, const Shown& shown) {
  if (std::isnan(value)) return "not a number";
  return fmt::format("{:.6g} {}", (value - shown.offset) * shown.scale, shown.unit);
}

} // namespace

ReadingError outside(std::string_view where, const Shown& shown, double value, Span span) {
  return {fmt::format("{}: the {} is {}; {} to {} is accepted", where, shown.name, number_text(value, shown),
                      number_text(span.low, shown), number_text(span.high, shown))};
}

ReadingError bad_uncertainty(std::string_view where, const Shown& shown, double u_si) {
  Shown difference = shown;
  difference.offset = 0.0;
  if (shown.unit == "°C") difference.unit = "K";
  return {fmt::format("{}: the standard uncertainty of the {} is {}; a finite value of zero or more is accepted", where,
                      shown.name, number_text(u_si, difference))};
}

ReadingError not_an_error(std::string_view where, const Shown& shown, double value) {
  return {fmt::format("{}: the {} is {}; a finite value of zero or more is accepted", where, shown.name,
                      number_text(value, shown))};
}

} // namespace oxherd::compensation
