#include "daemon/control_payload.hpp"

#include <limits>

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

// What programs and the page are told of an actuator.
namespace oxherd::daemon::control_payload_test {

using nlohmann::json;

WallTime at(std::int64_t ms) { return WallTime{std::chrono::milliseconds{ms}}; }
constexpr std::int64_t morning_ms = 1772352930250; // 2026-03-01T08:15:30.250Z

ActuatorStatus vents() {
  ActuatorStatus status;
  status.name = "bay-vents";
  status.duty = "ventilation";
  status.decided_by = "rest";
  status.because = "nothing asks for it";
  return status;
}

TEST(AnActuatorsPayload, SaysWithNullWhatIsNot) {
  EXPECT_EQ(json::parse(actuator_payload(vents())), json::parse(R"({"output":"bay-vents","duty":"ventilation",
    "fraction":0.0,"decided_by":"rest","because":"nothing asks for it","blocked_by":[],"started":null,"held":null,
    "tripped":null,"held_back":"","forecast":"","loop":null})"));
}

TEST(AnActuatorsPayload, TellsEveryConditionInTheWayAndWhoDidWhat) {
  auto purge = vents();
  purge.name = "pear-nitrogen";
  purge.duty = "nitrogen-purge";
  purge.decided_by = "interlock";
  purge.because = "the door is open; it waits to be released after: the door was \"open\"";
  purge.blocked_by = {{"door-closed", "the door is open"},
                      {"not-tripped", "it waits to be released after: the door was \"open\""}};
  purge.started = SaidOfActuator{"R. Okafor", "pull-down", at(morning_ms)};
  purge.held = SaidOfActuator{"mira", "trial", at(morning_ms), at(morning_ms + 600000)};
  purge.tripped = SaidOfActuator{{}, "the door was \"open\"", at(morning_ms)};
  purge.held_back = "stays off for its least off-time, 12 s more";
  purge.forecast = "oxygen falls as forecast";
  const auto told = json::parse(actuator_payload(purge));
  EXPECT_EQ(told.at("blocked_by"), json::parse(R"([{"condition":"door-closed","text":"the door is open"},
    {"condition":"not-tripped","text":"it waits to be released after: the door was \"open\""}])"));
  EXPECT_EQ(told.at("started"), json::parse(R"({"by":"R. Okafor","because":"pull-down",
    "since":"2026-03-01T08:15:30.250Z","until":null})"));
  EXPECT_EQ(told.at("held"), json::parse(R"({"by":"mira","because":"trial","since":"2026-03-01T08:15:30.250Z",
    "until":"2026-03-01T08:25:30.250Z"})"));
  EXPECT_EQ(told.at("tripped"), json::parse(R"({"by":"","because":"the door was \"open\"",
    "since":"2026-03-01T08:15:30.250Z","until":null})"));
  EXPECT_EQ(told.at("held_back"), "stays off for its least off-time, 12 s more");
  EXPECT_EQ(told.at("forecast"), "oxygen falls as forecast");
}

LoopStatus heat() {
  LoopStatus loop;
  loop.name = "heat";
  loop.holds = "temperature";
  loop.unit = "°C";
  loop.method = "continuous";
  loop.decimals = 1;
  return loop;
}

TEST(ALoopsPayload, CarriesItsNumbersInAPersonsUnitAndWhatItsProgramDoesNext) {
  auto heater = vents();
  heater.output = 0.42;
  heater.loop = heat();
  heater.loop->value = 22.9;
  heater.loop->set_point = 23.4;
  heater.loop->demand = 0.42;
  heater.loop->program = "following";
  heater.loop->target = 24.0;
  heater.loop->next_target = 18.0;
  heater.loop->next_at = at(morning_ms);
  const auto told = json::parse(actuator_payload(heater));
  EXPECT_EQ(told.at("fraction"), 0.42);
  EXPECT_EQ(told.at("loop"), json::parse(R"({"loop":"heat","holds":"temperature","unit":"°C","decimals":1,
    "method":"continuous","value":22.9,"set_point":23.4,"uncertain":false,"trouble":"","demand":0.42,
    "program":"following","target":24.0,"next_target":18.0,"next_at":"2026-03-01T08:15:30.250Z",
    "report":null,"tuning":null})"));
}

TEST(ALoopsPayload, HasNoNumberWhereNoneCanBeUsed) {
  auto heater = vents();
  heater.loop = heat();
  heater.loop->value = std::numeric_limits<double>::quiet_NaN();
  heater.loop->trouble = "growth-chamber-1/air: no reply for 6 s";
  const auto loop = json::parse(actuator_payload(heater)).at("loop");
  for (const auto* key : {"value", "set_point", "program", "target", "next_target", "next_at"})
    EXPECT_TRUE(loop.at(key).is_null()) << key;
  EXPECT_EQ(loop.at("trouble"), "growth-chamber-1/air: no reply for 6 s");
}

TEST(TheActuatorsOfARoom, AreAListInTheirOrder) {
  EXPECT_EQ(actuators_payload({}), "[]");
  auto fan = vents();
  fan.name = "bay-fan";
  const auto told = json::parse(actuators_payload({vents(), fan}));
  ASSERT_EQ(told.size(), 2U);
  EXPECT_EQ(told[0].at("output"), "bay-vents");
  EXPECT_EQ(told[1].at("output"), "bay-fan");
}

} // namespace oxherd::daemon::control_payload_test
