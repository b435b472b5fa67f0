#pragma once

#include <cmath>
#include <cstddef>
#include <type_traits>

namespace oxherd::compensation {

/// Two doubles that the processor works on in one step. The equations of a reading are written once, for a `Real` that
/// is one double or these: every operation of lanes is that of doubles, lane by lane and in the same order, so that a
/// row of a batch is bit for bit the reading of the same inputs.
/// The widest that every x86-64 and every 64-bit ARM processor has; wider ones would need a second build of the
/// program.
using Lanes = double __attribute__((vector_size(16)));
inline constexpr std::size_t lane_count = sizeof(Lanes) / sizeof(double);

/// One number in every lane.
template <class Real> [[nodiscard]] constexpr Real spread_over(double value) {
  if constexpr (std::is_same_v<Real, double>)
    return value;
  else
    return Real{value, value};
}

[[nodiscard]] inline double square_root(double x) { return std::sqrt(x); }
[[nodiscard]] inline Lanes square_root(Lanes x) { return Lanes{std::sqrt(x[0]), std::sqrt(x[1])}; }
[[nodiscard]] inline double exponential(double x) { return std::exp(x); }
[[nodiscard]] inline Lanes exponential(Lanes x) { return Lanes{std::exp(x[0]), std::exp(x[1])}; }
[[nodiscard]] inline double logarithm(double x) { return std::log(x); }
[[nodiscard]] inline Lanes logarithm(Lanes x) { return Lanes{std::log(x[0]), std::log(x[1])}; }

} // namespace oxherd::compensation
