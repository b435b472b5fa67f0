#pragma once

#include <string>
#include <string_view>

#include "compensation/cell.hpp"
#include "compensation/errors.hpp"
#include "compensation/spans.hpp"

namespace oxherd::compensation {

/// How a value is shown in a message: shown = (si - offset) * scale, followed by the unit.
struct Shown {
  std::string_view name; ///< the input in a person's words: "temperature"
  std::string_view unit; ///< "°C"
  double scale = 1.0;
  double offset = 0.0;
};
inline constexpr Shown shown_temperature{"temperature", "°C", 1.0, ice_point};
inline constexpr Shown shown_probe{"temperature of the humidity probe", "°C", 1.0, ice_point};
inline constexpr Shown shown_furnace{"furnace temperature", "°C", 1.0, ice_point};
inline constexpr Shown shown_humidity{"relative humidity", "%", 100.0};
inline constexpr Shown shown_pressure{"pressure", "kPa", 1e-3};
inline constexpr Shown shown_fraction{"oxygen fraction", "%", 100.0};
inline constexpr Shown shown_signal{"signal", "mV", 1e3};
inline constexpr Shown shown_resolution{"resolution", "mV", 1e3};
inline constexpr Shown shown_linearity{"linearity", "%", 100.0};
inline constexpr Shown shown_drift{"drift", "%", 100.0};

/// Why a value is refused, naming it and the span that would be accepted.
[[nodiscard]] ReadingError outside(std::string_view where, const Shown& shown, double value, Span span);
/// Why a standard uncertainty is refused.
[[nodiscard]] ReadingError bad_uncertainty(std::string_view where, const Shown& shown, double u_si);
/// Why a size of error is refused that is not a standard uncertainty itself.
[[nodiscard]] ReadingError not_an_error(std::string_view where, const Shown& shown, double value);

/// True for a standard uncertainty that can be propagated: not negative, and finite after it has been scaled and
/// squared.
[[nodiscard]] constexpr bool is_uncertainty(double u_si) { return u_si >= 0.0 && u_si <= 1e100; }

/// True when value and uncertainty may be used; otherwise fills `problem`.
template <class Q>
[[nodiscard]] bool accepted(const Uncertain<Q>& input, Span span, std::string_view where, const Shown& shown,
                            ReadingError& problem) {
  if (span.covers(input.value.si()) && is_uncertainty(input.u_si)) [[likely]]
    return true;
  problem = span.covers(input.value.si()) ? bad_uncertainty(where, shown, input.u_si)
                                          : outside(where, shown, input.value.si(), span);
  return false;
}

} // namespace oxherd::compensation
