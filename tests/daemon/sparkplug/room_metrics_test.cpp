#include "daemon/sparkplug/room_metrics.hpp"

#include <algorithm>
#include <limits>
#include <map>
#include <set>

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include "config/load.hpp"
#include "config/measurands.hpp"
#include "daemon/senml.hpp"

namespace oxherd::daemon::sparkplug_test {

using namespace sparkplug;
using nlohmann::json;
using testing::Contains;
using testing::Not;

/// A reading that has everything a reading can have.
ReadingRecord whole_reading() {
  ReadingRecord r;
  r.at = WallTime{std::chrono::seconds{1772352930}};
  r.room = "annexe";
  r.sensor = "cell-a";
  r.oxygen.emplace();
  r.oxygen->dry = DryFraction::from_si(0.2094);
  r.oxygen->u_dry = 0.0011;
  r.oxygen->wet = WetFraction::from_si(0.2071);
  r.oxygen->u_wet = 0.0012;
  r.oxygen->po2 = OxygenPartialPressure::from_si(20480.0);
  r.oxygen->u_po2_Pa = 105.0;
  r.raw_V = 0.0126;
  r.temperature_K = 277.15;
  r.humidity = 0.57;
  r.pressure_Pa = 98800.0;
  r.carbon_dioxide = 0.00042;
  r.over_pressure_Pa = 12.0;
  r.u_temperature_K = 0.3;
  r.u_humidity = 0.02;
  for (const auto& contact : config::contacts()) r.contacts.emplace_back(contact.measurand, true);
  return r;
}

/// The settings of the simulated site, whose sensors measure everything but what `more` adds.
config::Settings larkfield() {
  const std::filesystem::path root{OXHERD_SOURCE_DIR};
  auto loaded = config::load(root / "demo" / "larkfield.toml", {root / "config" / "profiles"});
  EXPECT_TRUE(loaded);
  return loaded->settings;
}

/// The same with one sensor that measures everything.
config::Settings with_everything() {
  auto settings = larkfield();
  auto& room = settings.rooms.at(0);
  room.name = "annexe";
  auto sensor = room.sensors.at(0);
  sensor.name = "cell-a";
  if (!sensor.cell) ADD_FAILURE() << "the first sensor of Larkfield is a cell";
  sensor.points.clear();
  for (const auto& name : config::measurand_names()) sensor.points.push_back({*config::measurand_named(name), 0.0});
  room.sensors = {sensor};
  return settings;
}

std::map<std::string, Said> said_of(const ReadingRecord& reading) {
  std::vector<Said> values;
  values_of(reading, values);
  const auto names = reading_names();
  EXPECT_EQ(names.size(), values.size());
  std::map<std::string, Said> out;
  for (std::size_t i = 0; i < names.size(); ++i) out[reading.sensor + "/" + names[i]] = values[i];
  return out;
}

TEST(SparkplugRoomMetrics, HaveEveryQuantityOfASenmlPackWithItsUnitAndValue) {
  const auto reading = whole_reading();
  const auto said = said_of(reading);
  const auto plan = plan_of(with_everything()).at(0);
  std::size_t compared = 0;
  for (const auto& record : json::parse(senml_pack("larkfield", reading))) {
    const auto name = "cell-a/" + record["n"].get<std::string>();
    const auto metric =
        std::find_if(plan.metrics.begin(), plan.metrics.end(), [&](const auto& one) { return one.name == name; });
    ASSERT_NE(metric, plan.metrics.end()) << name;
    EXPECT_EQ(metric->unit, record.value("u", "")) << name;
    ASSERT_TRUE(said.contains(name)) << name;
    const auto& value = said.at(name).value;
    if (record.contains("v"))
      EXPECT_EQ(value, Value{record["v"].get<double>()}) << name;
    else if (record.contains("vb"))
      EXPECT_EQ(value, Value{record["vb"].get<bool>()}) << name;
    else
      EXPECT_EQ(value, Value{record["vs"].get<std::string>()}) << name;
    ++compared;
  }
  EXPECT_EQ(compared, 11U + config::contacts().size());
}

TEST(SparkplugRoomMetrics, HaveAnUncertaintyBesideEachMeasuredQuantity) {
  const auto said = said_of(whole_reading());
  EXPECT_EQ(said.at("cell-a/u_oxygen_wet").value, Value{0.0012});
  EXPECT_EQ(said.at("cell-a/u_po2").value, Value{105.0});
  EXPECT_EQ(said.at("cell-a/u_temperature").value, Value{0.3});
  EXPECT_EQ(said.at("cell-a/u_humidity").value, Value{2.0}) << "in %RH";
  const auto plan = plan_of(with_everything()).at(0);
  EXPECT_THAT(plan.metrics, Contains(Definition{"cell-a/u_temperature", Datatype::float64, "K"}));
  EXPECT_THAT(plan.metrics, Contains(Definition{"cell-a/u_humidity", Datatype::float64, "%RH"}));
}

TEST(SparkplugRoomMetrics, AreNullForWhatIsMissingNotFiniteOrBad) {
  auto reading = whole_reading();
  reading.temperature_K.reset();
  reading.pressure_Pa = std::numeric_limits<double>::quiet_NaN();
  auto said = said_of(reading);
  for (const auto* name : {"temperature", "u_temperature", "pressure"}) {
    EXPECT_EQ(said.at("cell-a/" + std::string{name}).value, Value{}) << name;
    EXPECT_FALSE(said.at("cell-a/" + std::string{name}).good) << name;
  }
  reading = whole_reading();
  reading.status = alarms::Status::function_check;
  for (const auto& [name, one] : said_of(reading)) {
    const bool is_quality = name == "cell-a/quality";
    EXPECT_EQ(one.value, is_quality ? Value{std::string{"bad"}} : Value{}) << name;
    EXPECT_EQ(one.good, is_quality) << name;
  }
}

TEST(SparkplugRoomMetrics, AreGoodOnlyOfAGoodReading) {
  auto reading = whole_reading();
  EXPECT_TRUE(said_of(reading).at("cell-a/oxygen").good);
  reading.status = alarms::Status::out_of_specification;
  EXPECT_FALSE(said_of(reading).at("cell-a/oxygen").good);
  EXPECT_EQ(said_of(reading).at("cell-a/oxygen").value, Value{0.2094});
}

TEST(SparkplugRoomMetrics, CanBeNamedLikeNothingElse) {
  for (const auto& room : plan_of(larkfield())) {
    std::set<std::string> names;
    for (const auto& metric : room.metrics) EXPECT_TRUE(names.insert(metric.name).second) << metric.name;
    for (const auto& name : names) // a folder remains a folder (6.4.6)
      EXPECT_THAT(names, Not(Contains(testing::StartsWith(name + "/"))));
  }
}

TEST(SparkplugRoomMetrics, AreAllInThePlanThatARoomSays) {
  const auto settings = with_everything();
  const auto plan = plan_of(settings).at(0);
  RoomStatus status;
  for (const auto& alarm : settings.rooms.at(0).alarms) {
    status.alarms.emplace_back();
    status.alarms.back().alarm = alarm.name;
  }
  std::set<std::string> planned;
  for (const auto& metric : plan.metrics) planned.insert(metric.name);
  std::set<std::string> said;
  for (const auto& one : values_of(status)) said.insert(one.name);
  for (const auto& [name, one] : said_of(whole_reading())) said.insert(name);
  EXPECT_EQ(planned, said);
}

TEST(SparkplugRoomMetrics, ShowNoLevelOfARoomThatIsNotMonitored) {
  const auto level = [](bool monitored) {
    RoomStatus status;
    status.monitored = monitored;
    status.oxygen = 0.209;
    for (const auto& one : values_of(status))
      if (one.name == "state/oxygen") return one.said.value;
    return Value{std::string{"no such metric"}};
  };
  EXPECT_EQ(level(true), Value{0.209});
  EXPECT_EQ(level(false), Value{});
}

TEST(SparkplugRoomMetrics, CountTheAlarmsThatStandAndNotThoseThatAreHidden) {
  RoomStatus status;
  using enum alarms::State;
  for (const auto state :
       {normal, unacknowledged, acknowledged, returned_to_normal_unacknowledged, latched_unacknowledged,
        latched_acknowledged, shelved, suppressed_by_design, out_of_service}) {
    status.alarms.emplace_back();
    status.alarms.back().state = state;
  }
  const auto values = values_of(status);
  const auto count =
      std::find_if(values.begin(), values.end(), [](const auto& one) { return one.name == "state/alarms_standing"; });
  ASSERT_NE(count, values.end());
  EXPECT_EQ(count->said.value, Value{std::int64_t{5}});
}

} // namespace oxherd::daemon::sparkplug_test
