#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "control/aids/loop_report.hpp"
#include "daemon/reading_basis.hpp"

namespace oxherd::daemon {

/// Parameters that a rule proposes from a tuning experiment, in the keys and units of the settings.
struct TuningProposal {
  std::string_view rule, words; ///< "cautious-pi", and what it is for the person who chooses
  bool by_default = false;      ///< the one to try first
  double proportional_band = 0.0;
  std::optional<double> integral_time_s; ///< empty: none, which the settings cannot say
  double derivative_time_s = 0.0;
  std::string settings; ///< as lines of the file: `proportional_band = "2.40 K", integral_time = "1188 s"`
};

/// What a finished experiment found, per unit of the value.
struct UltimateStatus {
  double gain = 0.0; ///< share of the output per unit
  double period_s = 0.0;
  double swing = 0.0, on_share = 0.0, output_mean = 0.0;
  bool lopsided = false; ///< repeat it with levels around `output_mean`
};

/// A tuning experiment that runs, or the last one.
struct TuningStatus {
  bool running = false;
  std::string by, because;
  WallTime since;
  std::optional<WallTime> ended;
  std::string outcome; ///< how it stands, or what ended it, in words
  int swings = 0;      ///< completed
  double low = 0.0, high = 0.0, set_point = 0.0, hysteresis = 0.0;
  double output_low = 0.0, output_high = 0.0;
  double longest_s = 0.0;
  std::optional<UltimateStatus> ultimate;
  std::vector<TuningProposal> proposals; ///< by every rule; empty unless it is finished
};

/// How a loop performed since a time.
struct LoopReportStatus {
  WallTime since;
  std::string by;              ///< who began it anew; empty: the start of the daemon
  double band = 0.0;           ///< to each side of the set-point
  control::LoopReport figures; ///< values in a person's unit
};

/// A loop as `status` shows it, in a person's unit.
struct LoopStatus {
  std::string name;
  std::string_view holds, unit, method;
  int decimals = 1;
  std::optional<double> value, set_point;
  bool uncertain = false;
  std::string trouble;      ///< why there is no value, or why it is uncertain
  double demand = 0.0;      ///< of a controller, 0 to 1
  std::string_view program; ///< where it stands: "following", "held" ...; empty: there is none
  std::optional<double> target{}, next_target{};
  std::optional<WallTime> next_at{};
  std::optional<TuningStatus> tuning{};     ///< empty: none since the start
  std::optional<LoopReportStatus> report{}; ///< empty: nothing was seen yet
};

} // namespace oxherd::daemon
