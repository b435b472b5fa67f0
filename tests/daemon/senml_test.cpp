#include "daemon/senml.hpp"

#include <cmath>
#include <limits>
#include <map>
#include <regex>
#include <set>

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

namespace oxherd::daemon::senml_test {

using nlohmann::json;
using namespace std::chrono_literals;

WallTime at(std::int64_t unix_ms) { return WallTime{std::chrono::milliseconds{unix_ms}}; }

/// 2026-03-01T08:15:30.250Z
constexpr std::int64_t morning_ms = 1772352930250;

ReadingRecord reading_of_cell_a() {
  ReadingRecord r;
  r.at = at(morning_ms);
  r.room = "cryo-annexe";
  r.sensor = "cell-a";
  compensation::OxygenReading oxygen;
  oxygen.dry = DryFraction::from_si(0.2089);
  oxygen.wet = WetFraction::from_si(0.2064);
  oxygen.po2 = OxygenPartialPressure::from_si(20598.75);
  oxygen.u_dry = 0.0012;
  r.oxygen = oxygen;
  r.raw_V = 0.0119;
  r.temperature_K = 294.15;
  r.humidity = 0.57;
  r.pressure_Pa = 99800.0;
  r.carbon_dioxide = 0.00042;
  r.status = alarms::Status::out_of_specification;
  return r;
}

/// A record with its base fields applied (RFC 8428, 4.6).
struct Resolved {
  std::string name, unit;
  double time = 0.0;
  json value;
};

/// Resolves the base fields a pack may use here: bn, bt, bu, bver. Anything else fails the test that reads it.
std::vector<Resolved> resolve(const std::string& text) {
  std::string base_name, base_unit;
  double base_time = 0.0;
  std::vector<Resolved> records;
  for (const auto& record : json::parse(text)) {
    for (const auto& [key, unused] : record.items())
      EXPECT_TRUE((std::set<std::string>{"bn", "bt", "bu", "bver", "n", "u", "t", "v", "vs"}.contains(key))) << key;
    base_name = record.value("bn", base_name);
    base_unit = record.value("bu", base_unit);
    base_time = record.value("bt", base_time);
    EXPECT_EQ(record.contains("v") + record.contains("vs"), 1) << record; // RFC 8428, 4.2: exactly one value
    records.push_back({base_name + record.value("n", ""), record.value("u", base_unit),
                       base_time + record.value("t", 0.0), record.contains("v") ? record["v"] : record["vs"]});
  }
  return records;
}

std::map<std::string, Resolved> by_name(const std::string& pack) {
  std::map<std::string, Resolved> found;
  for (auto& record : resolve(pack)) found[record.name] = std::move(record);
  return found;
}

// RFC 8428, 5.1.2 (shortened) and 5.1.6: the resolver that the tests below rest on reads the published packs.
TEST(SenmlResolver, ReadsTheExamplesOfRfc8428) {
  const auto one = resolve(R"([{"bn":"urn:dev:ow:10e2073a0108006:","bt":1.276020076001e+09,"bu":"A","bver":5,
    "n":"voltage","u":"V","v":120.1},{"n":"current","t":-5,"v":1.2},{"n":"current","v":1.7}])");
  ASSERT_EQ(one.size(), 3U);
  EXPECT_EQ(one[0].name, "urn:dev:ow:10e2073a0108006:voltage");
  EXPECT_EQ(one[0].unit, "V");
  EXPECT_DOUBLE_EQ(one[1].time, 1276020071.001);
  EXPECT_EQ(one[1].unit, "A");
  EXPECT_DOUBLE_EQ(one[2].time, 1276020076.001);
  const auto two = resolve(R"([{"bn":"2001:db8::2/","bt":1.320078429e+09,"n":"temperature","u":"Cel","v":25.2},
    {"n":"humidity","u":"%RH","v":30},{"bn":"2001:db8::1/","n":"temperature","u":"Cel","v":12.3},
    {"n":"humidity","u":"%RH","v":67}])");
  ASSERT_EQ(two.size(), 4U);
  EXPECT_EQ(two[3].name, "2001:db8::1/humidity");
  EXPECT_DOUBLE_EQ(two[3].time, 1320078429.0);
}

TEST(SenmlPack, IsWrittenAsAgreed) {
  EXPECT_EQ(senml_pack("larkfield", reading_of_cell_a()),
            R"([{"bn":"larkfield/cryo-annexe/cell-a/","bt":1772352930.25,"n":"oxygen","u":"/","v":0.2089},)"
            R"({"n":"u_oxygen","u":"/","v":0.0012},{"n":"oxygen_wet","u":"/","v":0.2064},)"
            R"({"n":"po2","u":"Pa","v":20598.75},{"n":"temperature","u":"Cel","v":21},)"
            R"({"n":"humidity","u":"%RH","v":57},{"n":"pressure","u":"Pa","v":99800},)"
            R"({"n":"co2","u":"/","v":0.00042},{"n":"raw","u":"V","v":0.0119},{"n":"quality","vs":"uncertain"}])");
}

TEST(SenmlPack, ResolvesToFullNamesOneTimeAndEveryQuantity) {
  const auto records = by_name(senml_pack("larkfield", reading_of_cell_a()));
  ASSERT_EQ(records.size(), 10U);
  for (const auto& [name, record] : records) EXPECT_DOUBLE_EQ(record.time, 1772352930.250) << name;
  const auto value = [&](const std::string& name) { return records.at("larkfield/cryo-annexe/cell-a/" + name).value; };
  EXPECT_EQ(value("oxygen"), 0.2089);
  EXPECT_EQ(value("po2"), 20598.75);
  EXPECT_EQ(value("raw"), 0.0119);
  EXPECT_EQ(value("quality"), "uncertain");
}

// RFC 8428: section 12.1 (registered units; kPa, mV and ppm are not among those a version 10 pack may use),
// section 4.5.1 (characters of a name and its start).
TEST(SenmlPack, UsesRegisteredPrimaryUnitsAndLegalNamesOnly) {
  const std::set<std::string> registered{"Cel", "%RH", "Pa", "V", "/"};
  const std::regex legal{"[A-Za-z0-9][A-Za-z0-9:./_-]*"};
  const auto pack = senml_pack("larkfield", reading_of_cell_a());
  EXPECT_EQ(pack.find("bver"), std::string::npos); // absent means version 10
  for (const auto& record : resolve(pack)) {
    EXPECT_TRUE(std::regex_match(record.name, legal)) << record.name;
    EXPECT_TRUE(record.value.is_string() || registered.contains(record.unit)) << record.name << " " << record.unit;
  }
}

TEST(SenmlPack, LeavesOutWhatDoesNotExistOrIsNotFinite) {
  auto reading = reading_of_cell_a();
  reading.oxygen->dry = DryFraction::from_si(std::nan(""));
  reading.oxygen->u_dry = std::numeric_limits<double>::infinity();
  reading.raw_V = std::nan("");
  reading.temperature_K = -std::numeric_limits<double>::infinity();
  reading.humidity = std::nan("");
  reading.carbon_dioxide.reset();
  const auto pack = senml_pack("larkfield", reading);
  std::set<std::string> names;
  for (const auto& record : json::parse(pack)) names.insert(record["n"].get<std::string>());
  EXPECT_EQ(names, (std::set<std::string>{"oxygen_wet", "po2", "pressure", "quality"}));
}

TEST(SenmlPack, OfADeadSensorIsItsQualityAlone) {
  ReadingRecord reading;
  reading.at = at(morning_ms);
  reading.room = "bay-3";
  reading.sensor = "co2";
  reading.status = alarms::Status::failure;
  EXPECT_EQ(senml_pack("larkfield", reading),
            R"([{"bn":"larkfield/bay-3/co2/","bt":1772352930.25,"n":"quality","vs":"bad"}])");
}

// RFC 8428, 4.5.3: from 2^28 = 268435456 s on a time is absolute; below, it counts from now.
TEST(SenmlPack, SendsNoTimeThatWouldBeReadAsRelativeToNow) {
  auto reading = reading_of_cell_a();
  reading.at = at(268435456000 - 1);
  EXPECT_FALSE(json::parse(senml_pack("larkfield", reading))[0].contains("bt"));
  reading.at = at(268435456000);
  EXPECT_EQ(json::parse(senml_pack("larkfield", reading))[0].at("bt"), 268435456.0);
}

TEST(SenmlPack, SaysOfADoorWhetherItIsOpen) {
  ReadingRecord reading;
  reading.at = at(morning_ms);
  reading.room = "pear-store-2";
  reading.sensor = "door";
  reading.contacts = {{config::Measurand::door, true}};
  const auto pack = json::parse(senml_pack("larkfield", reading));
  ASSERT_EQ(pack.size(), 2U);
  EXPECT_EQ(pack[0].at("n"), "door");
  EXPECT_EQ(pack[0].at("vb"), true); // RFC 8428, 4.3: a boolean value
}

/// A cell's reading with nothing but its signal.
ReadingRecord signal_at(std::int64_t unix_ms, double raw_V) {
  ReadingRecord r;
  r.at = at(unix_ms);
  r.room = "cryo-annexe";
  r.sensor = "cell-a";
  r.raw_V = raw_V;
  return r;
}

TEST(SenmlPack, HoldsSeveralReadingsWithTheTimeOfEach) {
  SenmlPack pack{"larkfield/cryo-annexe/cell-a/"};
  pack.add(signal_at(morning_ms, 0.0119));
  pack.add(signal_at(morning_ms + 1001, 0.0118));
  pack.add(signal_at(morning_ms + 2000, 0.0117));
  const auto text = pack.take();
  EXPECT_EQ(text, R"([{"bn":"larkfield/cryo-annexe/cell-a/","bt":1772352930.25,"n":"raw","u":"V","v":0.0119},)"
                  R"({"n":"quality","vs":"good"},{"n":"raw","t":1.001,"u":"V","v":0.0118},)"
                  R"({"n":"quality","t":1.001,"vs":"good"},{"n":"raw","t":2,"u":"V","v":0.0117},)"
                  R"({"n":"quality","t":2,"vs":"good"}])");
  const auto records = resolve(text);
  ASSERT_EQ(records.size(), 6U);
  for (std::size_t i = 1; i < records.size(); ++i) // RFC 8428, 4.6
    EXPECT_GE(records[i].time, records[i - 1].time) << "in the order of their times";
  EXPECT_DOUBLE_EQ(records[2].time, 1772352931.251);
}

TEST(SenmlPack, BeginsAnewWhenItsRecordsWereTaken) {
  SenmlPack pack{"larkfield/cryo-annexe/cell-a/"};
  pack.add(signal_at(morning_ms, 0.0119));
  EXPECT_EQ(pack.take(), senml_pack("larkfield", signal_at(morning_ms, 0.0119)));
  EXPECT_TRUE(pack.empty());
  pack.add(signal_at(morning_ms + 5000, 0.0118));
  EXPECT_EQ(pack.take(), senml_pack("larkfield", signal_at(morning_ms + 5000, 0.0118)));
}

TEST(SenmlPack, TakesNoReadingThatWouldStandBeforeOthersOrHasNoTime) {
  SenmlPack pack{"larkfield/cryo-annexe/cell-a/"};
  EXPECT_TRUE(pack.fits(signal_at(morning_ms, 0.0119)));
  pack.add(signal_at(morning_ms, 0.0119));
  EXPECT_TRUE(pack.fits(signal_at(morning_ms, 0.0118)));
  EXPECT_FALSE(pack.fits(signal_at(morning_ms - 1, 0.0118))) << "the clock was set back";
  SenmlPack without_clock{"larkfield/cryo-annexe/cell-a/"};
  EXPECT_TRUE(without_clock.fits(signal_at(1000, 0.0119)));
  without_clock.add(signal_at(1000, 0.0119));
  EXPECT_FALSE(without_clock.fits(signal_at(2000, 0.0118))) << "it means now, and so must go now";
}

} // namespace oxherd::daemon::senml_test
