#pragma once

#include "daemon/replay/rederive.hpp"
#include "daemon/store/sqlite.hpp"
#include "tests/daemon/cli/cli_fixture.hpp"
#include "tests/daemon/room/annexe.hpp"
#include "tests/daemon/store/store_fixture.hpp"

namespace oxherd::daemon::cli_test {

/// The state directory that a daemon of the cryo-annexe left: readings of one cell, a second apart.
class RecordedAnnexe {
public:
  RecordedAnnexe() {
    auto& active = annexe.calibrations.at("cryo-annexe/cell-a");
    active.at = annexe.wall - std::chrono::hours{24 * 40};
    annexe.oxygen = 0.2071;
    annexe.temperature_C = 17.0;
    annexe.humidity = 0.62;
    annexe.pressure_Pa = 97250.0;
  }
  /// The pipeline runs for so many seconds; its readings are stored.
  void run(int seconds) {
    if (!annexe.site) annexe.start();
    keep(annexe.seconds(seconds));
  }
  void keep(const daemon::Outcome& outcome) {
    const auto store = store_test::open_store(state.path());
    for (const auto& reading : outcome.readings) {
      store->reading(reading);
      if (reading.sensor == "cell-a") readings.push_back(reading);
    }
    ASSERT_TRUE(store_test::committed_at_last(*store));
  }
  void record(const CalibrationRecord& calibration) const {
    const auto store = store_test::open_store(state.path());
    const auto number = store->add(calibration);
    ASSERT_TRUE(number) << number.error().what;
  }
  /// An adjustment with another span signal, performed a week before the readings.
  [[nodiscard]] CalibrationRecord late_adjustment(double span_mV) const {
    CalibrationRecord out;
    out.act = CalibrationAct::adjustment;
    out.performed = annexe.wall - std::chrono::hours{24 * 7};
    out.recorded = annexe.wall;
    out.room = "cryo-annexe";
    out.sensor = "cell-a";
    out.serial = "LK-000a";
    out.model = "concentration";
    out.author = "R. Finch";
    out.reason = "entered late";
    out.calibration = annexe.calibrations.at("cryo-annexe/cell-a").calibration;
    out.calibration->span.signal.value = millivolts(span_mV);
    TakenPoint point;
    point.values = out.calibration->span;
    out.points.push_back(point);
    return out;
  }
  [[nodiscard]] std::string dir() const { return state.path().string(); }
  [[nodiscard]] std::vector<std::string> command(std::vector<std::string> words) const {
    words.insert(words.end(), {"--state-dir", dir()});
    return words;
  }

  annexe_test::Annexe annexe;
  TemporaryDirectory state;
  std::vector<ReadingRecord> readings; ///< of cell-a
};

} // namespace oxherd::daemon::cli_test
