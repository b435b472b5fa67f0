// A day of the daemon's decision core, and the same day rehearsed from the readings that it would have recorded.
#include <map>

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include "config/load.hpp"
#include "daemon/cli/history_csv.hpp"
#include "daemon/payloads.hpp"
#include "daemon/rehearse/csv_data.hpp"
#include "daemon/rehearse/rehearsal.hpp"
#include "tests/daemon/logfile/text_source.hpp"
#include "tests/simulation/simulated_day.hpp"

namespace oxherd::simulation::rehearse_test {

using namespace std::chrono_literals;
using namespace daemon;

/// What `oxherd history readings --csv` writes of these readings.
std::string table_of(const std::vector<ReadingRecord>& readings) {
  ReadingHistory history;
  for (const auto& reading : readings) {
    StoredReading stored;
    stored.at = reading.at;
    stored.room = reading.room;
    stored.sensor = reading.sensor;
    stored.status = alarms::name_of(reading.status);
    stored.quality = alarms::name_of(alarms::quality_of(reading.status));
    if (reading.oxygen) {
      stored.oxygen = reading.oxygen->dry.si();
      stored.u_oxygen = reading.oxygen->u_dry;
      stored.po2_Pa = reading.oxygen->po2.si();
    }
    stored.carbon_dioxide = reading.carbon_dioxide;
    for (const auto& reason : reading.reasons) stored.reasons += (stored.reasons.empty() ? "" : "; ") + reason.text;
    history.readings.push_back(std::move(stored));
  }
  return cli::history_csv(nlohmann::json::parse(history_payload(history)), false);
}

rehearse::Rehearsed rehearsed(const std::string& table) {
  const std::string root = OXHERD_SOURCE_DIR;
  auto loaded = config::load(root + "/demo/larkfield.toml", {root + "/config/profiles"}, config::Purpose::rehearse);
  if (!loaded) throw std::runtime_error{config::to_string(loaded.error().front())};
  const rehearse::Rules rules{"larkfield.toml", loaded->settings};
  auto data =
      rehearse::CsvData::read(std::make_unique<logfile_test::TextSource>(table), "history.csv",
                              {.rooms = rules.settings.rooms, .room = {}, .every = {}, .zone = {}, .time_format = {}});
  if (!data) throw std::runtime_error{data.error().what};
  // Nobody acts in the simulated day.
  auto done = rehearse::rehearse(**data, {{rules}, {.acknowledge_after = std::nullopt}});
  if (!done) throw std::runtime_error{done.error().what};
  return std::move(*done);
}

/// The lines of each alarm, in order; an alarm's own are in one order whichever room comes first.
using Lines = std::map<std::string, std::vector<std::pair<WallTime, std::string>>>;
void add(Lines& lines, const AlarmRecord& record) {
  lines[record.room + "/" + record.alarm].emplace_back(
      record.at, record.event + " " + std::string{alarms::name_of(record.from)} + ">" +
                     std::string{alarms::name_of(record.to)} + " " + record.cause);
}

/// Both have the same lines of each alarm, no further apart than this.
void expect_same(const SimulatedDay& day, std::chrono::milliseconds apart_at_most) {
  const auto done = rehearsed(table_of(day.readings));
  Lines live, rehearsed_lines;
  for (const auto& change : day.changes) add(live, change.record);
  for (const auto& record : done.rules[0].journal) add(rehearsed_lines, record);
  ASSERT_GE(live.size(), 3U) << "two alarms of the annexe and one of the chamber";
  EXPECT_EQ(rehearsed_lines.size(), live.size());
  for (const auto& [name, lines] : live) {
    SCOPED_TRACE(name);
    ASSERT_TRUE(rehearsed_lines.contains(name));
    const auto& others = rehearsed_lines.at(name);
    ASSERT_EQ(others.size(), lines.size());
    for (std::size_t i = 0; i < lines.size(); ++i) {
      EXPECT_EQ(others[i].second, lines[i].second);
      const auto apart = std::chrono::abs(others[i].first - lines[i].first);
      // A cell that falls silent: readings go on with its last sample while that is permitted, so the record does not
      // tell which of them was the last that the device gave. Within that poll the times may differ.
      EXPECT_LE(apart, name == "growth-chamber-1/not-monitored" ? 1s : apart_at_most) << "line " << i;
    }
  }
}

TEST(RehearsedDay, GivesTheTransitionsThatTheDaemonMadeOfTheSameReadings) {
  SimulatedDay day{1, std::string{demo::builtin_story("larkfield")}, 1s};
  day.hold_the_air();
  day.run(150min);
  expect_same(day, 0ms);
}

// The daemon corrects a cell's last signal anew whenever an ambient probe answers, and judges it then; what is recorded
// is the reading of each poll of the cell. So a delay may start or start again one poll earlier or later.
TEST(RehearsedDay, IsWithinOnePollWhereTheAmbientProbesMove) {
  SimulatedDay day{1, std::string{demo::builtin_story("larkfield")}, 1s};
  day.run(150min);
  expect_same(day, 1s);
}

} // namespace oxherd::simulation::rehearse_test
