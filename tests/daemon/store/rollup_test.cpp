#include "daemon/store/rollup.hpp"

#include <fmt/format.h>

#include "daemon/store/measurements.hpp"
#include "daemon/store/schema.hpp"
#include "tests/daemon/store/store_fixture.hpp"

// How a minute of many readings is rolled up.
namespace oxherd::daemon::store_test {

namespace {

constexpr int sensors = 7;

/// A minute of one reading a second of each sensor, each with a course of its own, written and rolled up.
std::vector<std::string> rolled_up(std::int64_t readings_at_once) {
  const ScratchDir dir;
  auto file = store::Measurements::open(dir.path());
  std::vector<store::Queued<store::MeasurementRow>> rows;
  for (int second = 0; second < 60; ++second)
    for (int s = 0; s < sensors; ++s) {
      store::ReadingRow row;
      row.at = morning + std::chrono::seconds{second};
      row.room = "cryo-annexe";
      row.sensor = fmt::format("cell-{}", s);
      row.status = (second + s) % 13 == 0 ? alarms::Status::failure : alarms::Status::ok;
      row.oxygen = 0.2 + 1e-4 * s + 1e-6 * (second * (s + 1) % 17);
      rows.push_back({0, std::move(row)});
    }
  EXPECT_TRUE(file && file->write(rows));
  auto database = store::open_beside(dir.path(), store::measurements_schema());
  EXPECT_TRUE(store::roll_up_next(*database, morning + 1h, {}, readings_at_once).value_or(false));
  auto steps = database->prepare("SELECT step, sensor, start, readings, bad, oxygen_min, oxygen_max, oxygen_mean FROM "
                                 "rollup ORDER BY step, sensor, start");
  std::vector<std::string> found;
  while (steps->step().value_or(false))
    found.push_back(fmt::format("{} {} {} {} {} {} {} {}", steps->integer(0), steps->integer(1), steps->integer(2),
                                steps->integer(3), steps->integer(4), steps->real(5), steps->real(6), steps->real(7)));
  return found;
}

} // namespace

TEST(Rollup, IsTheSameInTurnsAsAtOnce) {
  const auto at_once = rolled_up(store::readings_at_once_most);
  EXPECT_EQ(at_once.size(), std::size_t{sensors * (6 + 1 + 1)}) << "tens, minute, hour so far";
  for (const int at_a_time : {1, 60, 100, 419}) EXPECT_EQ(rolled_up(at_a_time), at_once) << at_a_time;
}

} // namespace oxherd::daemon::store_test
