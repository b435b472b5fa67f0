#pragma once

#include <optional>
#include <string>

#include <nlohmann/json_fwd.hpp>
#include <tl/expected.hpp>

#include "daemon/calibration/session.hpp"

namespace oxherd::daemon {

/// One step of a calibration under way.
struct CalibrateRequest {
  enum class Step {
    begin,   ///< opens a session on a cell
    look,    ///< how the signal stands; changes nothing
    another, ///< another gas is on its way to the cell
    take,    ///< the point, from the stable window
    enter,   ///< a point that was written down elsewhere
    finish,  ///< judge the points and, unless it is a dry run, record the result
    cancel,
    withdraw ///< needs no session: declares a record void
  };
  Step step = Step::look;
  std::string room, sensor, author, reason;
  CalibrationAct act = CalibrationAct::adjustment; ///< begin
  ReferenceGas gas;                                ///< begin, another, take, enter
  TypedConditions typed;                           ///< take, enter
  std::optional<Uncertain<Signal>> signal;         ///< enter
  std::optional<WallTime> performed;               ///< enter
  std::optional<std::int64_t> number;              ///< withdraw: the record; finish: the record to be superseded
  bool dry_run = false;                            ///< finish
};

/// Reads a request object whose "command" is "calibrate". The error is a text for the person at the other end.
[[nodiscard]] tl::expected<CalibrateRequest, std::string> parse_calibrate(const nlohmann::json& request);

} // namespace oxherd::daemon
