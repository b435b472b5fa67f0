#pragma once

#include <cmath>
#include <cstdint>
#include <numbers>
#include <random>

namespace oxherd::demo {

/// A seeded source of random numbers. The distributions are our own, since those of the standard library may differ
/// between libraries and a seed must give the same day everywhere.
class Noise {
public:
  explicit Noise(std::uint64_t seed) : engine_{seed} {}
  /// Uniform in (0, 1], in steps of 2^-53.
  [[nodiscard]] double uniform() { return (static_cast<double>(engine_() >> 11) + 1.0) * 0x1p-53; }
  /// Uniform in (-half_width, half_width].
  [[nodiscard]] double spread(double half_width) { return (2.0 * uniform() - 1.0) * half_width; }
  /// Normal with mean 0 (Box and Muller 1958).
  [[nodiscard]] double normal(double sigma) {
    const double radius = std::sqrt(-2.0 * std::log(uniform()));
    return sigma * radius * std::cos(2.0 * std::numbers::pi * uniform());
  }

private:
  std::mt19937_64 engine_;
};

} // namespace oxherd::demo
