#pragma once

#include <map>
#include <memory>
#include <string>
#include <vector>

#include "daemon/calibration/session.hpp"
#include "daemon/control_socket/calibrate_request.hpp"
#include "daemon/room/site.hpp"

namespace oxherd::daemon {

/// The calibrations under way, at most one a cell. Belongs to the decision thread; neither waits nor writes.
class CalibrationDesk {
public:
  /// What a step came to.
  struct Answer {
    std::string result;                        ///< JSON, where it succeeded
    std::string kind, refusal;                 ///< "refused" or "unknown" with the words, where it did not
    std::optional<CalibrationRecord> to_store; ///< store it, then tell stored()
  };
  [[nodiscard]] Answer step(Site& site, const CalibrateRequest& request, const std::vector<CalibrationRecord>& records,
                            Monotonic now, WallTime wall);
  /// Feeds what a poll brought to the session of its sensor, if there is one.
  void note(const Site& site, const Poll& poll, const Outcome& outcome);
  /// Ends sessions that nobody looks at any more.
  /// @return their names, for the log
  [[nodiscard]] std::vector<std::string> expire(Site& site, Monotonic now);
  /// The record is on the disk: its session is over. What a withdrawal takes away is what a session of the same cell
  /// was begun on, so that one ends too, and its next step is told why.
  void stored(Site& site, const CalibrationRecord& record);
  /// It could not be written: the session goes on.
  void not_stored(const CalibrationRecord& record);
  void forget_all(); ///< after a reload: cells and rooms may be others

private:
  struct Open {
    SensorRef sensor;
    std::unique_ptr<CalibrationSession> session;
    Monotonic looked_at{0};
    bool being_stored = false;
  };
  [[nodiscard]] Answer begin(Site& site, const CalibrateRequest& request, Monotonic now, WallTime wall);
  [[nodiscard]] Answer look(const Open& open, Monotonic now) const;
  [[nodiscard]] Answer finish(const Site& site, Open& open, const CalibrateRequest& request,
                              const std::vector<CalibrationRecord>& records, Monotonic now, WallTime wall);
  [[nodiscard]] Answer withdraw(const CalibrateRequest& request, const std::vector<CalibrationRecord>& records,
                                WallTime wall) const;
  [[nodiscard]] Answer no_session(const std::string& name) const;
  void close(Site& site, const std::string& name, const std::string& why = "");

  using Sessions = std::map<std::string, Open>;
  /// The cell itself decides, wherever it stands now.
  [[nodiscard]] Sessions::const_iterator session_of_cell(const std::string& serial) const;

  Sessions sessions_;                        ///< by "room/sensor"
  std::map<std::string, std::string> ended_; ///< likewise: why the last one ended without a step of its own
};

} // namespace oxherd::daemon
