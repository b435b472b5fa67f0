#include <gtest/gtest.h>

#include "config/alarm_conditions.hpp"
#include "tests/config/sample.hpp"

// The conditions that an alarm can have besides a limit.
namespace oxherd::alarm_conditions_test {

using namespace std::chrono_literals;
using alarms::Direction;
using alarms::Priority;
using config_test::expect_said;
using config_test::said_about;
using config_test::settings_of;
using config_test::sound;
using config_test::with;

/// The sound sample with one more alarm, at line 34 of the file, named "extra".
std::string with_extra(const std::string& keys, std::string_view base = sound) {
  return with("[output.beacon]", "[room.annexe.alarm.extra]\n" + keys + "\n\n[output.beacon]", base);
}

/// The sound sample with a second cell and its vote.
const std::string two_cells = with("[room.annexe.sensor.air]",
                                   R"([room.annexe.sensor.cell-b]
measures = "oxygen"
bus = "plant"
unit = 12
profile = "millivolts-float32"
cell = { model = "concentration", zero = "0.4 mV" }
calibration = { signal = "12.6 mV", temperature = "21 °C", humidity = "45 %", pressure = "98.8 kPa" }

[room.annexe.sensor.air])",
                                   with("\"occupied\"", "\"occupied\"\noxygen_vote = \"1oo2\""));

config::AlarmSettings extra(const std::string& keys, std::string_view base = sound) {
  const auto text = with_extra(keys, base);
  EXPECT_EQ(said_about(text), std::vector<std::string>{});
  for (const auto& room : settings_of(text).rooms)
    for (const auto& alarm : room.alarms)
      if (alarm.name == "extra") return alarm;
  ADD_FAILURE() << "no such alarm";
  return {};
}

template <class Kind> Kind rule(const config::AlarmSettings& alarm) {
  const auto* kind = std::get_if<Kind>(&alarm.alarm.rule);
  EXPECT_NE(kind, nullptr);
  return kind == nullptr ? Kind{} : *kind;
}

TEST(Condition, IsALimitWhenTheFileIsSilent) {
  const auto silent = extra("quantity = \"oxygen\"\nbelow = \"20 %\"");
  const auto named = extra("quantity = \"oxygen\"\ncondition = \"limit\"\nbelow = \"20 %\"");
  EXPECT_EQ(silent.alarm.rule.index(), named.alarm.rule.index());
  EXPECT_EQ(rule<alarms::Limit>(named).limit, 0.2);
}

TEST(Condition, RateOfFallTakesAFifthOfItsLimitForDeadband) {
  const auto alarm = extra("quantity = \"oxygen\"\ncondition = \"rate-of-fall\"\nfall_per_minute = \"0.5 %\"");
  const auto fall = rule<alarms::RateOfFall>(alarm);
  EXPECT_DOUBLE_EQ(fall.limit.limit, 0.005);
  EXPECT_DOUBLE_EQ(fall.limit.deadband, 0.001);
  EXPECT_EQ(fall.limit.direction, Direction::high);
  EXPECT_EQ(fall.limit.on_delay, 10s);
  EXPECT_EQ(fall.limit.off_delay, 30s);
  EXPECT_EQ(fall.window, 60s);
  EXPECT_EQ(alarm.alarm.annunciation.priority, Priority::high);
  EXPECT_FALSE(alarm.alarm.annunciation.safety);
}

TEST(Condition, RateOfFallTakesWhatTheFileSays) {
  const auto alarm = extra("quantity = \"oxygen-partial-pressure\"\ncondition = \"rate-of-fall\"\n"
                           "fall_per_minute = \"0.4 kPa\"\ndeadband = \"100 Pa\"\nwindow = \"2 min\"\n"
                           "on_delay = \"5 s\"\noff_delay = \"1 min\"\nclass = \"safety\"\npriority = \"critical\"");
  const auto fall = rule<alarms::RateOfFall>(alarm);
  EXPECT_DOUBLE_EQ(fall.limit.limit, 400.0);
  EXPECT_DOUBLE_EQ(fall.limit.deadband, 100.0);
  EXPECT_EQ(fall.window, 2min);
  EXPECT_EQ(fall.limit.on_delay, 5s);
  EXPECT_EQ(fall.limit.off_delay, 1min);
  EXPECT_TRUE(alarm.alarm.annunciation.safety);
  EXPECT_EQ(alarm.alarm.annunciation.priority, Priority::critical);
}

TEST(Condition, TimeToLimitCountsInMinutes) {
  const auto alarm = extra("quantity = \"oxygen\"\ncondition = \"time-to-limit\"\nbelow = \"19.5 %\"\n"
                           "within = \"15 min\"\ndeadband = \"90 s\"");
  const auto forecast = rule<alarms::TimeToLimit>(alarm);
  EXPECT_DOUBLE_EQ(forecast.reached, 0.195);
  EXPECT_EQ(forecast.approached_from, Direction::low);
  EXPECT_DOUBLE_EQ(forecast.limit.limit, 15.0);
  EXPECT_DOUBLE_EQ(forecast.limit.deadband, 1.5);
  EXPECT_EQ(forecast.limit.direction, Direction::low);
  const auto plain = extra("quantity = \"oxygen\"\ncondition = \"time-to-limit\"\nabove = \"23.5 %\"");
  EXPECT_EQ(rule<alarms::TimeToLimit>(plain).approached_from, Direction::high);
  EXPECT_DOUBLE_EQ(rule<alarms::TimeToLimit>(plain).limit.limit, 10.0);
  EXPECT_DOUBLE_EQ(rule<alarms::TimeToLimit>(plain).limit.deadband, 2.0);
}

TEST(Condition, TimeAverageIsOverEightHoursUnlessTheFileSaysOtherwise) {
  const auto alarm = extra("quantity = \"oxygen\"\ncondition = \"time-average\"\nbelow = \"19.5 %\"");
  const auto average = rule<alarms::TimeAverage>(alarm);
  EXPECT_EQ(average.over, 8h);
  EXPECT_EQ(average.limit.direction, Direction::low);
  EXPECT_DOUBLE_EQ(average.limit.deadband, 0.002);
  EXPECT_EQ(average.limit.on_delay, 0s);
  EXPECT_TRUE(alarm.alarm.annunciation.safety);
  EXPECT_EQ(alarm.alarm.annunciation.priority, Priority::high);
  EXPECT_EQ(rule<alarms::TimeAverage>(extra("quantity = \"oxygen\"\ncondition = \"time-average\"\nbelow = \"19 %\"\n"
                                            "over = \"15 min\""))
                .over,
            15min);
}

TEST(Condition, DisagreementWaitsLongForASmallSpreadAndLessForALargeOne) {
  const std::string keys = "quantity = \"oxygen\"\ncondition = \"disagreement\"";
  const auto alarm = extra(keys, two_cells);
  EXPECT_DOUBLE_EQ(rule<alarms::Disagreement>(alarm).limit.limit, 0.005);
  EXPECT_EQ(rule<alarms::Disagreement>(alarm).limit.on_delay, 15min);
  EXPECT_EQ(alarm.alarm.annunciation.priority, Priority::medium);
  EXPECT_FALSE(alarm.alarm.annunciation.safety);
  const auto large = extra(keys + "\nspread = \"1 %\"", two_cells);
  EXPECT_EQ(rule<alarms::Disagreement>(large).limit.on_delay, 2min);
  EXPECT_EQ(rule<alarms::Disagreement>(extra(keys + "\nclass = \"safety\"", two_cells)).limit.on_delay, 10s);
}

TEST(Condition, DeviationHasASetPoint) {
  const auto alarm =
      extra("quantity = \"oxygen\"\ncondition = \"deviation\"\nset_point = \"2 %\"\ndeviation = \"0.5 %\"");
  const auto deviation = rule<alarms::Deviation>(alarm);
  EXPECT_DOUBLE_EQ(deviation.set_point, 0.02);
  EXPECT_DOUBLE_EQ(deviation.limit.limit, 0.005);
  EXPECT_DOUBLE_EQ(deviation.limit.deadband, 0.002);
  EXPECT_EQ(deviation.limit.on_delay, 120s);
  EXPECT_EQ(alarm.alarm.annunciation.priority, Priority::medium);
}

/// Everything said about an extra alarm with these keys; its table is at line 34, its first key at line 35.
void expect_of_extra(const std::string& keys, const std::vector<std::string>& said) {
  SCOPED_TRACE(keys);
  EXPECT_EQ(said_about(with_extra(keys)), said);
}

TEST(Condition, ProblemsNameThePlaceAndWhatIsAccepted) {
  const std::string oxygen = "quantity = \"oxygen\"\n";
  expect_of_extra(
      oxygen + "condition = \"rate-of-rise\"\nbelow = \"20 %\"",
      {R"(site.toml:36:13: room.annexe.alarm.extra.condition: "rate-of-rise" is not known; write "rate-of-fall", "time-average", "time-to-limit", "deviation", "door-open", "limit" or "disagreement")"});
  expect_of_extra(
      oxygen + "condition = \"rate-of-fall\"",
      {R"(site.toml:34:20: room.annexe.alarm.extra.fall_per_minute: missing; write for example fall_per_minute = "0.5 %")"});
  expect_of_extra(oxygen + "condition = \"rate-of-fall\"\nfall_per_minute = \"0 %\"",
                  {"site.toml:37:19: room.annexe.alarm.extra.fall_per_minute: must be more than zero: this alarm would "
                   "always stand"});
  expect_of_extra(
      oxygen + "condition = \"rate-of-fall\"\nfall_per_minute = \"0.5 %\"\nbelow = \"19.5 %\"",
      {R"(site.toml:38:1: room.annexe.alarm.extra.below: unknown key; known here: "window", "class", "on_delay", "regimes", "deadband", "off_delay", "priority", "quantity", "condition", "latching", "silence_for", "suppressed", "shelve_at_most", "override_reason", "fall_per_minute", "reannounce_after" or "acknowledge_required")"});
  expect_of_extra(oxygen + "condition = \"rate-of-fall\"\nfall_per_minute = \"0.5 %\"\nwindow = \"5 s\"",
                  {R"(site.toml:38:10: room.annexe.alarm.extra.window: "5 s" is outside 10 s to 1 h)"});
  expect_of_extra(oxygen + "condition = \"rate-of-fall\"\nfall_per_minute = \"0.5 %\"\nclass = \"safety\"\n"
                           "on_delay = \"20 s\"",
                  {"site.toml:39:12: room.annexe.alarm.extra.on_delay: 20 s is too long for an alarm of class "
                   "\"safety\": 10 s at most, unless an override_reason says why"});
  expect_of_extra(
      oxygen + "condition = \"time-to-limit\"",
      {R"(site.toml:34:20: room.annexe.alarm.extra: needs a limit: below or above, for example below = "19.5 %")"});
  expect_of_extra(
      oxygen + "condition = \"time-to-limit\"\nbelow = \"19.5 %\"\ndeadband = \"0.2 %\"",
      {R"(site.toml:38:12: room.annexe.alarm.extra.deadband: "0.2 %" is a fraction; write a duration such as "5 s")"});
  expect_of_extra(oxygen + "condition = \"time-average\"\nbelow = \"19.5 %\"\nover = \"25 h\"",
                  {R"(site.toml:38:8: room.annexe.alarm.extra.over: "25 h" is outside 1 min to 24 h)"});
  expect_of_extra(oxygen + "condition = \"disagreement\"",
                  {"site.toml:36:13: room.annexe.alarm.extra.condition: the room has one sensor alone that measures "
                   "\"oxygen\"; it takes two to disagree"});
  expect_of_extra(
      oxygen + "condition = \"deviation\"\ndeviation = \"0.5 %\"",
      {R"(site.toml:34:20: room.annexe.alarm.extra.set_point: missing; write for example set_point = "2 %")"});
  expect_of_extra("quantity = \"carbon-dioxide\"\ncondition = \"time-average\"\nabove = \"5000 ppm\"",
                  {"site.toml:35:12: room.annexe.alarm.extra.quantity: the room has no sensor that measures "
                   "\"carbon-dioxide\""});
}

TEST(Condition, WithARateNeedsTenPollsInItsWindow) {
  const auto slow = with("unit = 11", "unit = 11\nevery = \"7 s\"");
  const std::string keys = "quantity = \"oxygen\"\ncondition = \"rate-of-fall\"\nfall_per_minute = \"0.5 %\"\n";
  const auto said = said_about(with_extra(keys + "window = \"69 s\"", slow));
  ASSERT_FALSE(said.empty());
  EXPECT_EQ(said.back(), "site.toml:39:10: room.annexe.alarm.extra.window: a rate needs 10 polls in its window: at "
                         "least 70 s with a sensor polled every 7 s");
  for (const auto& line : said_about(with_extra(keys + "window = \"70 s\"", slow)))
    EXPECT_EQ(line.find("a rate needs"), std::string::npos) << line;
}

TEST(Condition, ARateDoesNotStandInForTheLowOxygenAlarm) {
  const auto said = said_about(with("below = \"19.5 %\"", "condition = \"rate-of-fall\"\nfall_per_minute = \"0.5 %\"\n"
                                                          "class = \"safety\""));
  ASSERT_EQ(said.size(), 1U);
  EXPECT_NE(said[0].find("no low-oxygen alarm of class \"safety\""), std::string::npos) << said[0];
}

TEST(Degraded, StandsInEveryRoomWhereMoreThanOneChannelVotes) {
  const auto alarms_of = [](std::string_view text) { return settings_of(text).rooms.at(0).alarms; };
  for (const auto& alarm : alarms_of(sound)) EXPECT_NE(alarm.name, "degraded");
  const auto with_vote = alarms_of(two_cells);
  ASSERT_EQ(with_vote.size(), 4U);
  const auto& alarm = with_vote[2];
  EXPECT_EQ(alarm.name, "degraded");
  EXPECT_EQ(alarm.alarm.annunciation.priority, Priority::medium);
  EXPECT_FALSE(alarm.alarm.annunciation.safety);
  EXPECT_EQ(rule<alarms::Degraded>(alarm).permitted, 72h);
}

TEST(Degraded, TakesOtherDelaysAndPriorityFromATableOfItsName) {
  const std::string table =
      "[room.annexe.alarm.degraded]\non_delay = \"5 min\"\npriority = \"high\"\n\n[output.beacon]";
  const auto found = settings_of(with("[output.beacon]", table, two_cells)).rooms.at(0).alarms;
  ASSERT_EQ(found.size(), 4U);
  EXPECT_EQ(rule<alarms::Degraded>(found[2]).on_delay, 5min);
  EXPECT_EQ(found[2].alarm.annunciation.priority, Priority::high);
  EXPECT_EQ(
      said_about(with("[output.beacon]", table)),
      (std::vector<std::string>{"site.toml:34:20: room.annexe.alarm.degraded: this name belongs to the alarm that a "
                                "vote has lost a channel, and the room has no vote of more than one; give another "
                                "alarm another name"}));
}

} // namespace oxherd::alarm_conditions_test
