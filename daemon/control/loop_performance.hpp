#pragma once

#include <optional>
#include <string>

#include "config/settings.hpp"
#include "control/aids/loop_report.hpp"

namespace oxherd::daemon {

using control::Monotonic;

/// What the figures of a loop are held against; all by the value that it holds, see config::LoopValue. The band is the
/// default of switch_on_beyond (common practice); a step of the set-point is twice that and has settled within 5 % of
/// itself (common practice is 2 % or 5 %; less drowns in noise); an oscillation has the band as its amplitude and the
/// integral time as its period (proposals of the project).
[[nodiscard]] control::LoopReportSettings report_settings_of(const config::Loop& loop);

/// How a loop performs since the daemon started, or since a person began the report anew. Constant memory.
class LoopPerformance {
public:
  explicit LoopPerformance(const config::Loop& loop);

  struct Seen {
    std::optional<double> set_point, value; ///< SI; a value that is uncertain is none
    double demand = 0.0;                    ///< of the loop, 0 to 1
    double driven = 0.0;                    ///< what the device is told, 0 to 1
    bool automatic = false;                 ///< the loop decides, and nobody tunes it
  };
  /// Takes one sample a second at most.
  void see(const Seen& seen, Monotonic now);
  void begin_anew(std::string by, Monotonic now);

  [[nodiscard]] std::optional<Monotonic> since() const { return since_; } ///< empty: nothing was seen yet
  [[nodiscard]] const std::string& by() const { return by_; }             ///< empty: since the start
  [[nodiscard]] double band() const { return settings_.band; }
  /// @return `switchings_per_h` are those of the coil, and empty for a register
  [[nodiscard]] control::LoopReport report() const;

private:
  control::LoopReportSettings settings_;
  bool has_coil_;
  control::LoopRecord record_;
  std::optional<Monotonic> since_{}, last_{};
  std::string by_{};
  bool on_ = false;
  long switchings_ = 0;
};

} // namespace oxherd::daemon
