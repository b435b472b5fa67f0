#pragma once

#include <chrono>
#include <optional>
#include <string>
#include <vector>

#include "compensation/calibration.hpp"
#include "compensation/oxygen_reading.hpp"
#include "daemon/store/recorded_oxygen.hpp"

namespace oxherd::daemon::cli {

inline constexpr double coverage_factor = 2.0; ///< k of every expanded uncertainty that explain prints

/// The gas at one place and time, with the words that say where its numbers come from.
struct PlacedGas {
  compensation::GasConditions gas;
  std::optional<Elevation> elevation;
  bool pressure_measured = false;
  std::string temperature_from, humidity_from; ///< "cryo-annexe/air"; empty: typed
  std::string pressure_from;                   ///< "measured", "standard atmosphere (ISO 2533) at 640 m", ...
};

/// What only a recorded reading has.
struct RecordedFacts {
  RecordedOxygen recorded;
  OxygenOutputs anew;                  ///< formed now from the recorded inputs, for what counts now
  OxygenOutputs first_anew;            ///< the same for what was recorded first; equal to `anew` without derivation
  std::vector<alarms::Reason> reasons; ///< what speaks against the reading, or why there is none
  [[nodiscard]] bool every_digit_agrees() const {
    return anew == recorded.outputs_now() && first_anew == recorded.outputs;
  }
};

/// One reading with all that it was formed from; typed and recorded readings are reported from it alike.
struct Explanation {
  std::optional<compensation::Cell> cell; ///< absent: a transmitter that reports a fraction itself
  std::string serial;
  std::optional<compensation::Calibration> calibration; ///< as it was typed or recorded, not widened
  std::optional<compensation::CellCharacteristic> characteristic;
  std::optional<Uncertain<Signal>> signal;
  std::optional<Uncertain<DryFraction>> reported; ///< by a transmitter, on the basis it reports
  bool reports_dry = false;
  compensation::SignalErrors errors;
  PlacedGas now, at_calibration;
  std::optional<double> calibration_age_s;
  /// How old a calibration may grow; empty: as old as it likes.
  std::optional<std::chrono::days> calibrate_every = config::CellUpkeep{}.calibrate_every;
  std::optional<double> drift_per_month;              ///< expected, relative; counted since the calibration
  std::optional<compensation::OxygenReading> reading; ///< absent: the reading is bad, RecordedFacts says why
  std::vector<std::string> assumed;                   ///< what was taken because it was not typed
  std::optional<RecordedFacts> stored;
};

/// What makes the reading doubtful, in sentences.
[[nodiscard]] std::vector<std::string> doubts_about(const Explanation& explained);

/// One line of the uncertainty budget.
struct BudgetLine {
  compensation::Input input;
  double contribution = 0.0; ///< |c| u, as a fraction of gas
  double share = 0.0;        ///< of the variance, 0 to 1
};

/// The inputs that contribute at all, the largest first.
[[nodiscard]] std::vector<BudgetLine> sorted_budget(const compensation::OxygenReading& reading);

/// The reading step by step for a person, with the caution at its end.
[[nodiscard]] std::string explain_text(const Explanation& explained);

/// The same as one JSON object on one line.
[[nodiscard]] std::string explain_json(const Explanation& explained);

} // namespace oxherd::daemon::cli
