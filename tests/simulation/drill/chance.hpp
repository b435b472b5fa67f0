#pragma once

#include <array>
#include <cstddef>
#include <cstdint>

namespace oxherd::drill {

/// One step of SplitMix64 (Steele, Lea, Flood 2014; constants from memory): a number that looks drawn, from any number.
[[nodiscard]] constexpr std::uint64_t mixed(std::uint64_t x) {
  x += 0x9e3779b97f4a7c15U;
  x = (x ^ (x >> 30U)) * 0xbf58476d1ce4e5b9U;
  x = (x ^ (x >> 27U)) * 0x94d049bb133111ebU;
  return x ^ (x >> 31U);
}

/// Draws that are the same on every machine, unlike those of the standard library's distributions.
class Chance {
public:
  explicit Chance(std::uint64_t seed) : state_{seed} {}
  [[nodiscard]] std::uint64_t bits() { return mixed(state_++ * 0x9e3779b97f4a7c15U); }
  [[nodiscard]] double unit() { return static_cast<double>(bits() >> 11U) * 0x1p-53; } ///< 0 to below 1
  [[nodiscard]] double between(double low, double high) { return low + (high - low) * unit(); }
  [[nodiscard]] int whole(int low, int high) { ///< both included
    return low + static_cast<int>(bits() % static_cast<std::uint64_t>(high - low + 1));
  }
  [[nodiscard]] bool in(double part) { return unit() < part; }
  template <class T, std::size_t n> [[nodiscard]] const T& of(const std::array<T, n>& all) { return all[bits() % n]; }

private:
  std::uint64_t state_;
};

/// Noise from -1 to 1 that depends on these numbers alone: what is left out of a story changes no other noise.
[[nodiscard]] constexpr double noise(std::uint64_t seed, std::uint64_t what, std::uint64_t when) {
  return static_cast<double>(mixed(seed ^ mixed(what ^ mixed(when))) >> 11U) * 0x1p-52 - 1.0;
}

} // namespace oxherd::drill
