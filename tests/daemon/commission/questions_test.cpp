#include "daemon/commission/questions.hpp"

#include <algorithm>
#include <set>

#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include "alarms/texts.hpp"
#include "config/load.hpp"
#include "daemon/commission/settings_text.hpp"

namespace oxherd::daemon::commission_test {

using commission::Answers;
using commission::completed;
using commission::Question;
using commission::questions;
using commission::settings_text;
using commission::Surroundings;
using config::Measurand;

/// The shipped profiles, and one that somebody made for this site.
Surroundings larkfield(bool with_own = false) {
  Surroundings around{
      "Larkfield", "Europe/Amsterdam", {}, {std::filesystem::path{OXHERD_SOURCE_DIR} / "config/profiles"}};
  around.profiles = {
      {"ambient-int16", false, {Measurand::temperature, Measurand::humidity, Measurand::pressure}, false},
      {"co2-uint16", false, {Measurand::carbon_dioxide}, false},
      {"millivolts-float32", false, {Measurand::oxygen}, true},
      {"oxygen-percent-uint16", with_own, {Measurand::oxygen}, false}};
  return around;
}

const Question& question(std::string_view key) {
  const auto found = std::ranges::find(questions(), key, &Question::key);
  if (found == questions().end()) throw std::runtime_error{"no such question"};
  return *found;
}

std::string refusal(std::string_view key, const std::string& answer, const Answers& before = {}) {
  return commission::why_not(question(key), answer, before, larkfield()).value_or("");
}

/// Everything answered by what the question shows, each after its own check.
Answers answered(std::vector<std::pair<std::string, std::string>> given, const Surroundings& around = larkfield()) {
  Answers answers;
  while (const Question* next = commission::next_question(answers)) {
    const auto typed = std::ranges::find(given, next->key, [](const auto& pair) { return pair.first; });
    const auto answer = typed != given.end()
                            ? typed->second
                            : next->otherwise(answers, around).text.value_or(std::string{next->example});
    const auto why = commission::why_not(*next, answer, answers, around);
    EXPECT_FALSE(why) << next->key << ": " << why.value_or("");
    commission::take(*next, answer, around, answers);
  }
  return answers;
}

/// The settings that these answers make; what is wrong in them fails the test.
config::Settings settings_of(const Answers& answers, const Surroundings& around = larkfield()) {
  const auto text = settings_text(answers, around);
  const auto loaded = config::parse(text, "written.toml", around.profile_dirs);
  if (loaded) return loaded->settings;
  for (const auto& problem : loaded.error()) ADD_FAILURE() << config::to_string(problem) << '\n' << text;
  return {};
}

TEST(EveryQuestion, HasItsOwnKeyAndAnExampleThatMakesASoundFile) {
  std::set<std::string_view> keys;
  for (const auto& one : questions()) EXPECT_TRUE(keys.insert(one.key).second) << one.key;
  EXPECT_FALSE(settings_of(completed({}, larkfield())).rooms.empty());
}

TEST(EveryQuestion, SaysWhereItsDefaultComesFromOrWhyItHasNone) {
  for (const auto& one : questions()) EXPECT_FALSE(one.otherwise({}, larkfield()).origin.empty()) << one.key;
}

TEST(EveryQuestion, AcceptsItsOwnExampleAndDefault) {
  EXPECT_FALSE(answered({}).empty());
  EXPECT_FALSE(answered({{"calibration_signal", "12.6 mV"},
                         {"ambient_profile", "ambient-int16"},
                         {"bus", "/dev/ttyUSB0"},
                         {"co2_profile", "co2-uint16"}})
                   .empty());
}

TEST(AWrittenFile, HasTheAnswersTheAlarmsAndTheCaution) {
  const auto answers = answered({{"site", "larkfield"},
                                 {"elevation", "212 m"},
                                 {"bus", "tcp://127.0.0.1:1502"},
                                 {"room", "cryo-annexe"},
                                 {"oxygen_profile", "millivolts-float32"},
                                 {"oxygen_unit", "11"},
                                 {"cell_zero", "0.4 mV"},
                                 {"cell_serial", "LK-0007"},
                                 {"calibration_signal", "12.6 mV"},
                                 {"calibration_temperature", "21 °C"},
                                 {"calibration_humidity", "45 %"},
                                 {"calibration_pressure", "99.8 kPa"},
                                 {"ambient_profile", "ambient-int16"},
                                 {"ambient_unit", "21"},
                                 {"relay", "31/0"},
                                 {"mqtt", "mqtt://127.0.0.1:1883"},
                                 {"page", "off"}});
  const auto settings = settings_of(answers);
  EXPECT_EQ(settings.site.name, "larkfield");
  EXPECT_EQ(settings.site.zone.name, "Europe/Amsterdam");
  ASSERT_EQ(settings.rooms.size(), 1U);
  const auto& room = settings.rooms.front();
  ASSERT_EQ(room.sensors.size(), 2U);
  EXPECT_EQ(room.sensors[0].unit, 11);
  EXPECT_TRUE(room.sensors[0].calibration.has_value());
  EXPECT_EQ(room.sensors[1].points.size(), 3U);
  for (const auto* name : {"low-oxygen", "very-low-oxygen", "high-oxygen", "not-monitored"})
    EXPECT_NE(std::ranges::find(room.alarms, name, &config::AlarmSettings::name), room.alarms.end()) << name;
  EXPECT_EQ(settings.outputs.size(), 1U);
  EXPECT_TRUE(settings.mqtt.has_value());
  EXPECT_FALSE(settings.http.has_value());
  auto text = settings_text(answers, larkfield());
  for (std::size_t at = 0; (at = text.find("\n# ", at)) != std::string::npos;) text.replace(at, 3, " ");
  EXPECT_NE(text.find(alarms::caution_long()), std::string::npos) << text;
}

TEST(AWrittenFile, OfASensorThatReportsAFractionHasNoCell) {
  const auto answers = answered({{"oxygen_profile", "oxygen-percent-uint16"}, {"reports", "dry"}});
  EXPECT_FALSE(answers.contains("cell_model"));
  const auto settings = settings_of(answers);
  ASSERT_EQ(settings.rooms.size(), 1U);
  EXPECT_FALSE(settings.rooms[0].sensors[0].cell.has_value());
  EXPECT_TRUE(settings.rooms[0].sensors[0].reports_dry);
}

TEST(AWrittenFile, OfASerialLineHasItsSettings) {
  const auto answers = answered({{"bus", "/dev/ttyUSB0"}, {"baud", "9600"}, {"parity", "none"}});
  const auto settings = settings_of(answers);
  ASSERT_EQ(settings.buses.size(), 1U);
  const auto* line = std::get_if<drivers::SerialLine>(&settings.buses[0].address);
  ASSERT_NE(line, nullptr);
  EXPECT_EQ(line->baud, 9600);
  EXPECT_EQ(line->parity, drivers::Parity::none);
}

TEST(AWrittenFile, IsSoundForEveryKindOfRoomAndCell) {
  for (const auto* kind : {"occupied", "enriched", "sealed-low-oxygen", "ventilated-before-entry"})
    for (const auto* model : {"concentration", "partial-pressure", "mole-fraction", "nernst"})
      EXPECT_EQ(settings_of(answered({{"room_kind", kind}, {"cell_model", model}, {"co2_profile", "co2-uint16"}}))
                    .rooms.size(),
                1U);
}

TEST(AProfileOfTheSiteItself, IsTheDefault) {
  EXPECT_EQ(question("oxygen_profile").otherwise({}, larkfield(true)).text, "oxygen-percent-uint16");
  EXPECT_EQ(question("oxygen_profile").otherwise({}, larkfield()).text, std::nullopt);
  EXPECT_EQ(question("ambient_profile").otherwise({}, larkfield()).text, "none");
}

TEST(AWrongAnswer, IsRefusedWithTheSentenceOfTheSettingsFile) {
  EXPECT_NE(refusal("elevation", "212").find("unit"), std::string::npos) << refusal("elevation", "212");
  EXPECT_NE(refusal("elevation", "19 kPa").find("pressure"), std::string::npos);
  EXPECT_NE(refusal("elevation", "9000 m").find("5500 m"), std::string::npos);
  EXPECT_NE(refusal("site", "Larkfield Station").find("cannot name a site"), std::string::npos);
  EXPECT_NE(refusal("time_zone", "Larkfield/Time"), "");
  EXPECT_NE(refusal("bus", "192.0.2.10").find("tcp://"), std::string::npos);
  EXPECT_NE(refusal("bus", "tcp://"), "");
  EXPECT_NE(refusal("baud", "9601", {{"bus", "/dev/ttyUSB0"}}).find("standard rate"), std::string::npos);
  EXPECT_NE(refusal("parity", "evn", {{"bus", "/dev/ttyUSB0"}}), "");
  EXPECT_NE(refusal("room", "Cryo Annexe").find("cannot name a room"), std::string::npos);
  EXPECT_NE(refusal("room", "status"), "");
  EXPECT_NE(refusal("room_kind", "occupyed").find("occupied"), std::string::npos);
  EXPECT_NE(refusal("oxygen_profile", "milivolts-float32").find("millivolts-float32"), std::string::npos);
  EXPECT_NE(refusal("oxygen_unit", "300"), "");
  EXPECT_NE(refusal("oxygen_unit", "eleven").find("whole number"), std::string::npos);
  EXPECT_NE(refusal("relay", "31").find("31/0"), std::string::npos);
  EXPECT_NE(refusal("mqtt", "broker.example"), "");
  EXPECT_NE(refusal("page", "0.0.0.0:8120").find("TLS"), std::string::npos);
}

TEST(AWrongAnswer, AboutTheCellIsRefusedToo) {
  Answers before;
  commission::take(question("oxygen_profile"), "millivolts-float32", larkfield(), before);
  EXPECT_NE(refusal("cell_model", "galvanic", before), "");
  EXPECT_NE(refusal("cell_zero", "0.4", before), "");
  EXPECT_NE(refusal("calibration_signal", "12.6 kPa", before), "");
  before["calibration_signal"] = "12.6 mV";
  EXPECT_NE(refusal("calibration_temperature", "210 °C", before), "");
  EXPECT_NE(refusal("calibration_humidity", "145 %", before), "");
  EXPECT_NE(refusal("calibration_pressure", "998 kPa", before), "");
}

TEST(NoAnswer, CanBreakOutOfItsPlaceInTheFile) {
  EXPECT_TRUE(rc::check("whatever is accepted makes a sound file", [] {
    const Question* const picked =
        *rc::gen::element(&question("site"), &question("emergency"), &question("time_zone"), &question("bus"),
                          &question("room"), &question("oxygen_unit"), &question("mqtt"));
    const auto text = *rc::gen::oneOf(
        rc::gen::string<std::string>(),
        rc::gen::element<std::string>("x\"\n[site]\nname = \"y", "\\", "a\"b", "1\nbaud = 3", "[", "11 # x", "\"\"\""));
    Answers answers;
    if (commission::why_not(*picked, text, answers, larkfield())) return;
    commission::take(*picked, text, larkfield(), answers);
    const auto whole = completed(answers, larkfield());
    const auto loaded = config::parse(settings_text(whole, larkfield()), "written.toml", larkfield().profile_dirs);
    RC_ASSERT(loaded.has_value());
    RC_ASSERT(loaded->settings.rooms.size() == 1U);
  }));
}

TEST(TheFormOfAnswers, NamesEveryQuestion) {
  const auto form = commission::answers_form(larkfield());
  for (const auto& one : questions())
    EXPECT_NE(form.find(std::string{one.key} + " = \""), std::string::npos) << one.key;
  EXPECT_NE(form.find("\nelevation = \"\"\n"), std::string::npos); // has no default: it must be filled in
  EXPECT_NE(form.find("\n# page = \"127.0.0.1:8120\""), std::string::npos);
}

} // namespace oxherd::daemon::commission_test
