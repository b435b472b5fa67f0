#pragma once

#include <algorithm>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "config/document.hpp"
#include "config/load.hpp"
#include "config/settings.hpp"

namespace oxherd::config {

/// A chain of keys: {"room", "cryo-annexe", "regime"}.
using Keys = std::vector<std::string_view>;

/// Checks of more than one table look at the settings; this finds the place in the file to report.
class Reporter {
public:
  Reporter(const Table& root, Problems& problems, Purpose purpose)
      : root_{root}, problems_{problems}, purpose_{purpose} {}
  void error(const Keys& keys, std::string message) {
    problems_.error(position_of(root_, keys), dotted(keys), std::move(message));
  }
  void warning(const Keys& keys, std::string message) {
    problems_.warning(position_of(root_, keys), dotted(keys), std::move(message));
  }
  /// Whether the file has this key.
  [[nodiscard]] bool has(const Keys& keys) const;
  /// Whether something at these keys or below them is wrong already.
  [[nodiscard]] bool is_broken(const Keys& keys) const { return problems_.has_error_under(dotted(keys)); }

  /// False: the data that its rules are rehearsed over stands in for the sensors it does not have.
  [[nodiscard]] bool expects_sensors(const Room& room) const {
    return purpose_ == Purpose::run || !room.sensors.empty();
  }

private:
  [[nodiscard]] static std::string dotted(const Keys& keys);
  const Table& root_;
  Problems& problems_;
  Purpose purpose_;
};

[[nodiscard]] inline bool measures(const Sensor& sensor, Measurand measurand) {
  return std::any_of(sensor.points.begin(), sensor.points.end(),
                     [measurand](const MeasuredPoint& p) { return p.measurand == measurand; });
}
[[nodiscard]] inline int channels(const Room& room, Measurand measurand) {
  return static_cast<int>(std::count_if(room.sensors.begin(), room.sensors.end(),
                                        [measurand](const Sensor& s) { return measures(s, measurand); }));
}

/// What a regime and an entry lock need.
void check_regime(const Room& room, Reporter& report);
/// Limits, delays and the alarms that must exist, room by room.
void check_alarms(const Room& room, const Site& site, Reporter& report);

/// What actuators and loops need of their rooms.
void check_control(const Settings& settings, Reporter& report);
/// The rooms, alarms and quantities that outputs name, and coils and registers that two of them would write.
void check_outputs(const Settings& settings, Reporter& report);

} // namespace oxherd::config
