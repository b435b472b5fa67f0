#include "daemon/calibration/record_json.hpp"

#include <bit>
#include <cmath>
#include <cstdlib>
#include <limits>
#include <random>

#include <gtest/gtest.h>

#include "tests/daemon/calibration/records.hpp"

namespace oxherd::daemon::record_json_test {

using namespace example_records;

/// A record that uses every field.
CalibrationRecord full() {
  auto record = adjustment(42, day(2026, 9, 1));
  record.supersedes = 41;
  record.reason = "hose \"was\" off,\n2 % Überdruck <b>";
  record.warnings = {"the air is at 97 %RH", ""};
  record.points.insert(record.points.begin(), nitrogen_point());
  record.points[1].as_found = dry(0.2071, 0.0008);
  record.points[1].as_left = dry(0.20946, 0.0004);
  record.points[1].values.gas.humidity_temperature = Uncertain<Temperature>{celsius(20.5), 0.2};
  record.points[1].values.reference_air = room_air();
  record.calibration->low = record.points[0].values;
  return record;
}

TEST(RecordJson, ReadsBackEveryField) {
  const auto record = full();
  const auto read = record_from_json(to_json(record));
  ASSERT_TRUE(read) << read.error();
  EXPECT_EQ(read->number, 42);
  EXPECT_EQ(read->act, CalibrationAct::adjustment);
  EXPECT_EQ(read->performed, record.performed);
  EXPECT_EQ(read->recorded, record.recorded);
  EXPECT_EQ(read->room + read->sensor + read->serial + read->model + read->author,
            record.room + record.sensor + record.serial + record.model + record.author);
  EXPECT_EQ(read->reason, record.reason);
  EXPECT_EQ(read->supersedes, 41);
  EXPECT_EQ(read->warnings, record.warnings);
  ASSERT_EQ(read->points.size(), 2U);
  const auto& nitrogen = read->points[0];
  EXPECT_EQ(nitrogen.gas.kind, GasKind::nitrogen);
  EXPECT_EQ(nitrogen.gas.cylinder, "N-204");
  EXPECT_EQ(nitrogen.gas.certificate, "LK-C-0831");
  EXPECT_EQ(nitrogen.gas.expires, day(2027, 6, 30));
  EXPECT_FALSE(nitrogen.as_found || nitrogen.values.reference_air || nitrogen.values.gas.humidity_temperature);
  const auto& air = read->points[1];
  EXPECT_EQ(air.gas.kind, GasKind::fresh_air);
  EXPECT_FALSE(air.gas.expires);
  EXPECT_EQ(air.values.signal.value, millivolts(12.6));
  EXPECT_EQ(air.values.gas.humidity_temperature->value, celsius(20.5));
  EXPECT_EQ(air.values.reference_air->pressure.value, pascals(99800.0));
  EXPECT_EQ(air.as_found->value.si(), 0.2071);
  EXPECT_EQ(air.as_left->u_si, 0.0004);
  EXPECT_EQ(air.stability.samples, 121);
  EXPECT_TRUE(air.stability.stable);
  EXPECT_EQ(air.stability.slope_per_minute, -0.0001);
  EXPECT_EQ(air.pressure_from, "cryo-annexe/air");
  EXPECT_EQ(read->calibration->low->signal.value, millivolts(0.3));
  EXPECT_EQ(read->calibration->zero.u_si, 0.05e-3);
  EXPECT_EQ(read->characteristic->sensitivity_unit, "V/(mol/m3)");
  EXPECT_EQ(read->characteristic->sensitivity, 0.0014);
}

TEST(RecordJson, ReadsBackEveryAct) {
  const auto taken_back = withdrawal(7, day(2026, 1, 2), 3);
  const auto read = record_from_json(to_json(taken_back));
  ASSERT_TRUE(read) << read.error();
  EXPECT_EQ(read->act, CalibrationAct::withdrawal);
  EXPECT_FALSE(read->calibration || read->characteristic);
  EXPECT_TRUE(read->points.empty());
  auto bump = check(8, day(2026, 1, 3), 0.209);
  bump.act = CalibrationAct::bump_test;
  EXPECT_EQ(record_from_json(to_json(bump))->act, CalibrationAct::bump_test);
  EXPECT_EQ(record_from_json(to_json(check(9, day(2026, 1, 3), 0.2)))->act, CalibrationAct::check);
}

// Any bit pattern that is a finite number, the subnormals and both zeros included.
TEST(RecordJson, ReadsBackEveryDoubleToTheLastBit) {
  const char* given = std::getenv("OXHERD_SEED");
  const auto seed = given == nullptr ? std::random_device{}() : static_cast<unsigned>(std::stoul(given));
  SCOPED_TRACE("OXHERD_SEED=" + std::to_string(seed));
  std::mt19937_64 random{seed};
  std::vector<double> values{0.0, -0.0, 5e-324, 1.7976931348623157e308, 1e22, 9007199254740993.0, 0.1};
  while (values.size() < 2000) {
    const double value = std::bit_cast<double>(random());
    if (std::isfinite(value)) values.push_back(value);
  }
  auto record = adjustment(1, day(2026, 1, 1));
  for (const double value : values) {
    record.points[0].values.signal = {Signal::from_si(value), value};
    record.points[0].stability.scatter = value;
    record.characteristic->sensitivity = value;
    const auto read = record_from_json(to_json(record));
    ASSERT_TRUE(read) << read.error() << " " << value;
    for (const double back : {read->points[0].values.signal.value.si(), read->points[0].values.signal.u_si,
                              read->points[0].stability.scatter, read->characteristic->sensitivity})
      ASSERT_EQ(std::bit_cast<std::uint64_t>(back), std::bit_cast<std::uint64_t>(value)) << value;
  }
}

TEST(RecordJson, RefusesNumbersThatAreNone) {
  auto record = adjustment(1, day(2026, 1, 1));
  record.points[0].values.signal.u_si = std::numeric_limits<double>::quiet_NaN();
  const auto read = record_from_json(to_json(record));
  ASSERT_FALSE(read);
  EXPECT_EQ(read.error(), "calibration record: points[0].values.signal_V.u is not a number");
}

std::string replaced(std::string_view from, std::string_view to) {
  std::string text = to_json(full());
  const auto at = text.find(from);
  EXPECT_NE(at, std::string::npos) << from;
  return text.replace(at, from.size(), to);
}

TEST(RecordJson, SaysWhereItIsBroken) {
  struct Row {
    std::string text, problem;
  };
  const Row rows[] = {
      {"", "not JSON at byte 1"},
      {"[]", "the text is not an object"},
      {"{}", "version is missing"},
      {replaced("\"version\":1", "\"version\":2"), "version is not 1: read it with a newer program"},
      {replaced("\"version\":1", "\"version\":true"), "version is not a whole number"},
      {replaced("\"number\":42", "\"number\":42.5"), "number is not a whole number"},
      {replaced("\"number\":42", "\"number\":18446744073709551615"), "number is not a whole number"},
      {replaced("\"act\":\"adjustment\"", "\"act\":\"adjust\""), "act is none of the known words"},
      {replaced("\"kind\":\"nitrogen\"", "\"kind\":\"helium\""), "points[0].gas.kind is none of the known words"},
      {replaced("2026-09-01T00:00:00.000Z", "yesterday"), "performed is not a time such as 2026-03-01T08:15:30.250Z"},
      {replaced("2026-09-01T00:00:00.000Z", "0000-01-01T00:00:00+10:00"),
       "performed is not a time such as 2026-03-01T08:15:30.250Z"},
      {replaced("\"room\":\"cryo-annexe\"", "\"room\":7"), "room is not text"},
      {replaced("\"stable\":true", "\"stable\":1"), "points[0].stability.stable is neither true nor false"},
      {replaced("\"samples\":121", "\"samples\":-1"), "points[0].stability.samples is not a count"},
      {replaced("\"points\":[", "\"points\":7,\"x\":["), "points is not a list"},
      {replaced("\"u\":", "\"w\":"), "points[0].gas.oxygen.u is missing"},
      {replaced("\"sensor\":", "\"colour\":3,\"sensor\":"), "colour is not known in this version"},
      {replaced("\"V/(mol/m3)\"", "\"V/kg\""), "characteristic.sensitivity_unit is not the unit of any cell model"},
      {replaced("\"seconds\":120", "\"seconds\":1e999"), "a number is too large"},
      {replaced("\"warnings\":[", "\"warnings\":[3,"), "warnings is not a list of texts"}};
  for (const auto& row : rows) {
    const auto read = record_from_json(row.text);
    ASSERT_FALSE(read) << row.problem;
    EXPECT_EQ(read.error(), "calibration record: " + row.problem);
  }
  EXPECT_FALSE(record_from_json(std::string(300000, ' ')));
  EXPECT_FALSE(record_from_json(std::string(200000, '[')));
}

// Cut short anywhere, it must not pass for a whole one.
TEST(RecordJson, TakesNoPartForTheWhole) {
  const auto text = to_json(full());
  for (std::size_t n = 0; n < text.size(); n += 7) EXPECT_FALSE(record_from_json(text.substr(0, n))) << n;
  EXPECT_EQ(to_json(record_from_json(text).value()), text);
}

} // namespace oxherd::daemon::record_json_test
