#pragma once

#include <map>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/room/site.hpp"

namespace oxherd::daemon::rig_test {

/// pear-store-2: sealed at low oxygen, with everything that the interlocks of its purge ask for.
extern const std::string_view pear_store;
/// bay-3: carbon dioxide is dosed by day; vents and a fan.
extern const std::string_view bay;
/// growth-chamber-1: temperature, humidity and light by a program.
extern const std::string_view chamber;

/// A site of one room on a manual clock: sensors say what `values` holds, devices confirm what `confirmed` holds.
class Rig {
public:
  /// @param text  settings, which must be without a fault
  explicit Rig(std::string_view text);

  std::map<std::string, double> values;    ///< by "sensor/measurand", SI
  std::set<std::string> silent;            ///< sensors that do not answer
  std::map<std::string, bool> unconfirmed; ///< outputs whose device does not hold what it was told
  Monotonic now{1'000'000};
  WallTime wall{std::chrono::milliseconds{1'772'352'930'000}}; // 2026-03-01T08:15:30Z, a Sunday
  std::optional<Site> site;
  std::vector<AlarmRecord> lines; ///< of the journal, all that there were
  std::vector<AlarmNews> news;

  void second(); ///< each sensor is polled, each device answers, one tick
  void run(std::chrono::seconds time) {
    for (int i = 0; i < time.count(); ++i) second();
  }
  /// Polls one sensor now and nothing else: one cycle.
  void poll(const std::string& sensor);
  /// 0 to 1.
  [[nodiscard]] double driven(const std::string& output) const;
  [[nodiscard]] bool on(const std::string& output) const { return driven(output) > 0.0; }
  [[nodiscard]] ActuatorStatus actuator(const std::string& output) const;
  [[nodiscard]] bool blocked_by(const std::string& output, std::string_view condition) const;
  /// What is said to a person; empty: it was done.
  std::string order(const std::string& output, control::ActuatorAct act, double at = 1.0,
                    std::chrono::minutes time = std::chrono::minutes{30});
  std::string set_regime(alarms::Regime regime);
  [[nodiscard]] alarms::State state(const std::string& alarm) const;
  [[nodiscard]] std::string events_of(const std::string& journal_name) const; ///< "start tripped run-ended"
  void restart(); ///< a new daemon that reads what the journal has
  void reload(std::string_view text);

private:
  void keep(Outcome outcome);
  [[nodiscard]] Poll poll_of(std::size_t sensor) const;
  config::Settings settings_;
};

[[nodiscard]] config::Settings settings_of(std::string_view text);

} // namespace oxherd::daemon::rig_test
