#pragma once

#include <array>
#include <chrono>
#include <cstdint>

namespace oxherd::daemon {

/// How long decisions took to reach a device: counts in logarithmic classes, eight to the doubling, so that a quantile
/// is right to a tenth from a microsecond to over an hour. Pure.
class Latency {
public:
  void add(std::chrono::microseconds took);
  [[nodiscard]] std::uint64_t count() const { return count_; }
  [[nodiscard]] std::chrono::microseconds longest() const { return longest_; } ///< exactly; 0 when there is none
  /// The upper end of the class in which the share `q` of 0 to 1 is reached, at most longest(); 0 when there is none.
  [[nodiscard]] std::chrono::microseconds quantile(double q) const;

private:
  static constexpr std::size_t per_doubling = 8, doublings = 33;
  std::array<std::uint64_t, per_doubling * doublings> counts_{};
  std::uint64_t count_ = 0;
  std::chrono::microseconds longest_{0};
};

} // namespace oxherd::daemon
