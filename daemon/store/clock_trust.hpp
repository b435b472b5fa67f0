#pragma once

#include <chrono>
#include <optional>

#include "daemon/records.hpp"

namespace oxherd::daemon::store {

/// Whether the civil clock may be believed when records are deleted by their age. One that was stepped may be wrong,
/// and what is deleted by it is gone: it is not believed for a day, by which time somebody has noticed.
/// @checked tests/daemon/store/clock_trust_test.cpp
class ClockTrust {
public:
  static constexpr std::chrono::hours step{1}; ///< more than drift, leap seconds and a clock that is set at a start
  static constexpr std::chrono::hours doubted{24};

  /// @param steady  on a clock that nobody sets
  [[nodiscard]] bool believes(WallTime civil, std::chrono::milliseconds steady) {
    const auto offset = civil.time_since_epoch() - steady;
    if (offset_ && std::chrono::abs(offset - *offset_) > step) doubted_until_ = steady + doubted;
    offset_ = offset;
    return steady >= doubted_until_;
  }

private:
  std::optional<std::chrono::milliseconds> offset_;
  std::chrono::milliseconds doubted_until_ = std::chrono::milliseconds::min();
};

} // namespace oxherd::daemon::store
