#include <gtest/gtest.h>

#include "config/profile.hpp"
#include "tests/config/sample.hpp"

namespace oxherd::profile_test {

using config::Measurand;
using Lines = std::vector<std::string>;

Lines said(std::string_view text) {
  config::Problems problems{"p.toml"};
  const auto profile = config::parse_profile("p", text, problems);
  EXPECT_EQ(profile.has_value(), !problems.has_errors());
  Lines lines;
  for (const auto& problem : problems.sorted()) lines.push_back(to_string(problem));
  return lines;
}

constexpr std::string_view plain = R"(description = "a thermometer"
[point.temperature]
table = "holding"
address = 65535
type = "int16"
unit = "°F"
scale = 0.1
offset = 3
order = "BADC"
bad_values = [-32768, 32767]
lowest = "-20 °C"
highest = "60 °C"
uncertainty = "1 °C"
[[status]]
table = "discrete"
address = 4
active_low = true
category = "function_check"
text = "in maintenance"
[read]
gap_max = 0
length_max = 4
)";

TEST(Profile, ReadsEveryKeyOfAPoint) {
  config::Problems problems{"p.toml"};
  const auto profile = config::parse_profile("p", plain, problems);
  ASSERT_TRUE(profile) << to_string(problems.sorted().at(0));
  EXPECT_EQ(profile->description, "a thermometer");
  const auto& point = profile->points.at(0).point;
  EXPECT_EQ(point.name, "temperature");
  EXPECT_EQ(point.table, drivers::Table::holding_register);
  EXPECT_EQ(point.address, 65535);
  EXPECT_EQ(point.encoding, drivers::Encoding::int16);
  EXPECT_EQ(point.order, drivers::ByteOrder::badc);
  EXPECT_DOUBLE_EQ(point.scale, 0.1);
  EXPECT_DOUBLE_EQ(point.offset, 3.0);
  // 32 °F is the ice point.
  EXPECT_NEAR(32.0 * point.si_scale + point.si_offset, 273.15, 1e-9);
  EXPECT_EQ(point.bad_values, (std::vector<double>{-32768, 32767}));
  EXPECT_DOUBLE_EQ(point.lowest_si.value(), 253.15);
  EXPECT_DOUBLE_EQ(point.highest_si.value(), 333.15);
  EXPECT_DOUBLE_EQ(profile->points[0].measured.u_si, 1.0);
  EXPECT_EQ(profile->status.at(0).table, drivers::Table::discrete_input);
  EXPECT_EQ(profile->status[0].mask, 1);
  EXPECT_TRUE(profile->status[0].active_low);
  EXPECT_EQ(profile->meanings.at(0).status, alarms::Status::function_check);
  EXPECT_EQ(profile->meanings[0].text, "in maintenance");
  EXPECT_EQ(profile->gap_max, 0);
  EXPECT_EQ(profile->length_max, 4);
}

TEST(Profile, TellsACellsSignalFromATransmittersFractionByTheUnit) {
  const auto dimension = [](std::string_view unit) {
    config::Problems problems{"p.toml"};
    const auto profile = config::parse_profile(
        "p",
        "description = \"x\"\n[point.oxygen]\ntable = \"input\"\naddress = 0\ntype = \"uint16\"\nunit = \"" +
            std::string{unit} + "\"\n",
        problems);
    return profile ? std::optional{profile->points.at(0).dimension} : std::nullopt;
  };
  EXPECT_EQ(dimension("mV"), compensation::Dimension::voltage);
  EXPECT_EQ(dimension("%"), compensation::Dimension::ratio);
  EXPECT_EQ(dimension("ppm"), compensation::Dimension::ratio);
  EXPECT_EQ(dimension("kPa"), std::nullopt);
}

TEST(Profile, HasASpanEvenWhenItStatesNone) {
  config::Problems problems{"p.toml"};
  const auto profile = config::parse_profile(
      "p", "description = \"x\"\n[point.pressure]\ntable = \"input\"\naddress = 0\ntype = \"uint16\"\nunit = \"hPa\"\n",
      problems);
  ASSERT_TRUE(profile);
  EXPECT_DOUBLE_EQ(profile->points[0].point.lowest_si.value(), 60e3); // betrays kPa taken for hPa
  EXPECT_DOUBLE_EQ(profile->points[0].point.highest_si.value(), 110e3);
}

TEST(Profile, NamesThePlaceAndWhatIsAccepted) {
  struct Row {
    std::string_view from, to, expected;
  };
  const Row rows[] = {
      {"table = \"holding\"", "table = \"holdings\"",
       R"(p.toml:3:9: point.temperature.table: "holdings" is not known; write "holding", "coil", "input" or "discrete")"},
      {"address = 65535", "address = 40001.0",
       "p.toml:4:11: point.temperature.address: 40001.0 is not a whole number; write one from 0 to 65535, without "
       "quotes"},
      {"type = \"int16\"", "type = \"int32\"",
       "p.toml:4:11: point.temperature.address: 65535 leaves no room for the whole value below address 65536"},
      {"type = \"int16\"", "type = \"bit\"",
       R"(p.toml:5:8: point.temperature.type: a register holds a number; "bit" belongs to coil or discrete)"},
      {"unit = \"°F\"", "unit = \"hPa\"",
       R"(p.toml:6:8: point.temperature.unit: "hPa" is a pressure; write a temperature such as "21 °C")"},
      {"scale = 0.1", "scale = 0", "p.toml:7:9: point.temperature.scale: 0 would make every value the same"},
      {"offset = 3", "offset = inf",
       "p.toml:8:10: point.temperature.offset: inf is outside -1000000000000000 to 1000000000000000"},
      {"order = \"BADC\"", "order = \"BACD\"",
       R"(p.toml:9:9: point.temperature.order: "BACD" is not known; write "ABCD", "BADC", "CDAB" or "DCBA")"},
      {"bad_values = [-32768, 32767]", "bad_values = [\"none\"]",
       R"(p.toml:10:15: point.temperature.bad_values: "none" is not a finite number)"},
      {"lowest = \"-20 °C\"", "lowest = \"70 °C\"",
       "p.toml:12:11: point.temperature.highest: lowest must be below highest"},
      {"uncertainty = \"1 °C\"", "uncertainty = \"1 %\"",
       R"(p.toml:13:15: point.temperature.uncertainty: "1 %" is a fraction; write a temperature difference such as "0.3 K")"},
      {"active_low = true", "active_low = true\nmask = 2",
       "p.toml:18:8: status[0].mask: belongs to a register; a coil or discrete input is one bit"},
      {"category = \"function_check\"", "category = \"ok\"",
       R"(p.toml:18:12: status[0].category: "ok" is not known; write "failure", "function_check", "out_of_specification" or "maintenance_required")"},
      {"gap_max = 0", "gap_max = 200", "p.toml:21:11: read.gap_max: 200 is outside 0 to 124"},
      {"[point.temperature]", "[point.temperatur]",
       R"(p.toml:2:8: point.temperatur: "temperatur" is no measurand; there is "temperature", "pressure", "humidity", "over-pressure", "oxygen", "door", "occupancy", "lights", "relief-valve", "air-flow", "sea-level-pressure" or "carbon-dioxide")"},
  };
  for (const auto& row : rows) {
    SCOPED_TRACE(row.to);
    const auto lines = said(config_test::with(row.from, row.to, plain));
    ASSERT_FALSE(lines.empty());
    EXPECT_EQ(lines[0], row.expected);
  }
}

TEST(ShippedProfiles, AreAllWithoutFault) {
  config::ProfileShelf shelf{config_test::shipped()};
  const auto names = shelf.names();
  EXPECT_EQ(names, (Lines{"air-flow-contact", "ambient-float32", "ambient-int16", "co2-uint16", "door-contact",
                          "lights-contact", "millivolts-float32", "occupancy-contact", "over-pressure-int16",
                          "oxygen-percent-uint16", "relief-valve-contact"}));
  for (const auto& name : names) EXPECT_NE(shelf.find(name), nullptr) << name;
  for (const auto& problems : shelf.problems())
    for (const auto& problem : problems.sorted()) ADD_FAILURE() << to_string(problem);
}

TEST(ShippedProfiles, TurnRegistersIntoTheQuantitiesOfTheirDevices) {
  config::ProfileShelf shelf{config_test::shipped()};
  struct Row {
    std::string name;
    Measurand measurand;
    double raw, si, bad;
  };
  const Row rows[] = {{"ambient-int16", Measurand::temperature, -55, 267.65, -32768},
                      {"ambient-int16", Measurand::humidity, 452, 0.452, 65535},
                      {"ambient-int16", Measurand::pressure, 9881, 98810, 65535},
                      {"co2-uint16", Measurand::carbon_dioxide, 815, 815e-6, 65535},
                      {"oxygen-percent-uint16", Measurand::oxygen, 2090, 0.209, 65535}};
  for (const auto& row : rows) {
    SCOPED_TRACE(row.name);
    const auto* profile = shelf.find(row.name);
    ASSERT_NE(profile, nullptr);
    for (const auto& [measured, point, dimension] : profile->points) {
      if (measured.measurand != row.measurand) continue;
      EXPECT_NEAR((row.raw * point.scale + point.offset) * point.si_scale + point.si_offset, row.si, row.si * 1e-12);
      EXPECT_EQ(point.bad_values, std::vector<double>{row.bad});
      EXPECT_GT(measured.u_si, 0.0);
    }
  }
}

} // namespace oxherd::profile_test
