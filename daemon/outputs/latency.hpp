#pragma once

#include <array>
#include <chrono>
#include <cstdint>

namespace oxherd::daemon {

/// How long decisions took to reach a device: counts in logarithmic classes, eight to the doubling, so that a quantile
/// is right to a tenth from a microsecond to over an hour. Pure.
class Latency {
public:
  /// Up to which times decisions are counted exactly as well, for whoever compares two moments or adds outputs up. A
  /// factor of two to two and a half from one to the next, with the wanted millisecond among them.
  static constexpr std::array<std::chrono::microseconds, 14> bounds{
      std::chrono::microseconds{250},  std::chrono::microseconds{500}, std::chrono::milliseconds{1},
      std::chrono::microseconds{2500}, std::chrono::milliseconds{5},   std::chrono::milliseconds{10},
      std::chrono::milliseconds{25},   std::chrono::milliseconds{50},  std::chrono::milliseconds{100},
      std::chrono::milliseconds{250},  std::chrono::milliseconds{500}, std::chrono::seconds{1},
      std::chrono::milliseconds{2500}, std::chrono::seconds{5}};

  void add(std::chrono::microseconds took);
  [[nodiscard]] std::uint64_t count() const { return count_; }
  [[nodiscard]] std::chrono::microseconds longest() const { return longest_; } ///< exactly; 0 when there is none
  [[nodiscard]] std::chrono::microseconds total() const { return total_; }     ///< of all of them
  /// How many took no longer than each of `bounds`.
  [[nodiscard]] const std::array<std::uint64_t, bounds.size()>& within() const { return within_; }
  /// The upper end of the class in which the share `q` of 0 to 1 is reached, at most longest(); 0 when there is none.
  [[nodiscard]] std::chrono::microseconds quantile(double q) const;

private:
  static constexpr std::size_t per_doubling = 8, doublings = 33;
  std::array<std::uint64_t, per_doubling * doublings> counts_{};
  std::array<std::uint64_t, bounds.size()> within_{};
  std::uint64_t count_ = 0;
  std::chrono::microseconds longest_{0}, total_{0};
};

} // namespace oxherd::daemon
