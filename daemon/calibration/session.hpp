#pragma once

#include <deque>
#include <optional>
#include <string>
#include <vector>

#include <tl/expected.hpp>

#include "compensation/oxygen_reading.hpp"
#include "daemon/calibration/judgement.hpp"
#include "daemon/calibration/record.hpp"
#include "daemon/calibration/stability.hpp"
#include "daemon/reading_basis.hpp"

namespace oxherd::daemon {

/// What a person sets out to do with one cell.
struct SessionPlan {
  CalibrationAct act = CalibrationAct::adjustment; ///< adjustment, check or bump_test
  std::string room, sensor, author;
  StabilityRules stability;
};

/// One live sample of the cell with the gas around it.
struct SessionSample {
  double seconds = 0.0; ///< monotonic
  WallTime at;
  Uncertain<Signal> signal;
  compensation::GasConditions gas;
};

/// Humidity of gas from a cylinder: its water is counted in ppm (common practice, no source), far below what matters.
inline constexpr Uncertain<RelativeHumidity> dry_gas_humidity{RelativeHumidity::from_si(0.0), 0.0};
inline constexpr std::string_view dry_gas_source = "dry gas of a cylinder";

/// Conditions that a person typed instead of the ambient sensors'.
struct TypedConditions {
  std::optional<Uncertain<Temperature>> temperature;
  std::optional<Uncertain<RelativeHumidity>> humidity;
  std::optional<Uncertain<Pressure>> pressure;
  [[nodiscard]] bool any() const { return temperature || humidity || pressure; }
};

/// A calibration, check or bump test under way: gathers live samples, tells when the signal is stable, takes points and
/// proposes the record. Pure: samples and times come in.
class CalibrationSession {
public:
  /// @param before  cell, calibration so far and where ambient inputs come from; must have a cell
  CalibrationSession(SessionPlan plan, SharedBasis before, double seconds, WallTime began);

  void add(const SessionSample& sample);
  /// Another gas is on its way: what was seen so far is of no use for the next point.
  void start_point(double seconds);

  [[nodiscard]] StabilityVerdict stability() const;
  [[nodiscard]] const std::optional<SessionSample>& latest() const { return latest_; }
  /// What the present calibration makes of the latest sample.
  [[nodiscard]] std::optional<compensation::OxygenReading> reading() const;
  [[nodiscard]] double seconds_of_point(double now) const { return now - point_began_; }
  [[nodiscard]] const SessionPlan& plan() const { return plan_; }
  [[nodiscard]] const std::vector<TakenPoint>& points() const { return points_; }
  [[nodiscard]] const SharedBasis& basis() const { return before_; }
  [[nodiscard]] WallTime began() const { return began_; }

  /// Averages the stable window into a point of this gas. Gas from a cylinder is taken as dry unless a humidity is
  /// typed: the room's probe is not in it.
  /// @return why it cannot be taken yet
  [[nodiscard]] tl::expected<TakenPoint, std::string> take(const ReferenceGas& gas, const TypedConditions& typed);
  /// A point as it was written down elsewhere: no window stands behind it, and the judgement says so.
  void enter(TakenPoint point, WallTime performed);

  /// The record that the points taken amount to, with as found, as left and the new calibration.
  /// @param problem  what the equations answered where they give no calibration
  [[nodiscard]] CalibrationRecord propose(WallTime now, const std::string& reason, std::string& problem) const;
  /// What the samples say about the circumstances: pressure and humidity range, condensation, typed values.
  void describe(Circumstances& circumstances) const;

private:
  [[nodiscard]] SignalScale scale() const;
  [[nodiscard]] compensation::Calibration calibration_of(const std::vector<TakenPoint>& points) const;

  SessionPlan plan_;
  SharedBasis before_;
  WallTime began_;
  double point_began_;
  std::deque<SessionSample> seen_; ///< of this point, the last of them as far back as any window reaches
  std::optional<SessionSample> latest_;
  std::vector<TakenPoint> points_; ///< in the order taken
  std::optional<WallTime> taken_at_;
  bool typed_ = false;
  std::optional<double> pressure_range_Pa_, humidity_range_; ///< widest of the points' windows
};

/// The record that declares another one void.
[[nodiscard]] CalibrationRecord withdrawal_of(const CalibrationRecord& record, const std::string& author,
                                              const std::string& reason, WallTime now);

} // namespace oxherd::daemon
