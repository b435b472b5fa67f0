// Explaining what the real pipeline recorded in a real store.
#include <cmath>

#include <nlohmann/json.hpp>

#include "daemon/time_text.hpp"
#include "tests/daemon/cli/recorded_fixture.hpp"

namespace oxherd::daemon::explain_stored_test {

using cli_test::FakeDaemon;
using cli_test::Outcome;
using cli_test::RecordedAnnexe;
using cli_test::run_words;
using nlohmann::json;
using std::chrono::milliseconds;

Outcome explain_at(const RecordedAnnexe& plant, WallTime at, std::vector<std::string> more = {}) {
  auto words = plant.command({"explain", "--room", "cryo-annexe", "--sensor", "cell-a", "--at", rfc3339(at)});
  words.insert(words.end(), more.begin(), more.end());
  return run_words(words);
}

json json_at(const RecordedAnnexe& plant, WallTime at) {
  const auto got = explain_at(plant, at, {"--json"});
  EXPECT_EQ(got.code, cli::fine) << got.err;
  auto out = json::parse(got.out, nullptr, false);
  EXPECT_TRUE(out.is_object()) << got.out;
  return out;
}

void expect_parts(const std::string& text, const std::vector<std::string_view>& parts) {
  for (const auto part : parts) EXPECT_NE(text.find(part), std::string::npos) << part << "\n" << text;
}

// The signal of these readings comes from the forward model at 20.71 %: the explanation must lead back there.
TEST(ExplainingARecordedReading, LeadsFromItsSignalToTheOxygenThatMadeIt) {
  RecordedAnnexe plant;
  plant.run(3);
  const auto& last = plant.readings.back();
  const auto got = json_at(plant, last.at);
  EXPECT_NEAR(got["dry_fraction"].get<double>(), 0.2071, 1e-9);
  EXPECT_EQ(got["dry_fraction"].get<double>(), last.oxygen->dry.si());
  EXPECT_EQ(got["u"]["dry_fraction"].get<double>(), last.oxygen->u_dry);
  EXPECT_EQ(got["stored"]["every_digit_agrees"], true);
  EXPECT_EQ(got["stored"]["at"], rfc3339(last.at));
  EXPECT_EQ(got["stored"]["serial"], "LK-000a");
  EXPECT_EQ(got["stored"]["calibration"]["performed"], rfc3339(*plant.annexe.calibrations.begin()->second.at));
  EXPECT_TRUE(got["stored"]["calibration"]["number"].is_null());
  EXPECT_TRUE(got["stored"]["derivation"].is_null());
  EXPECT_EQ(got["pressure_from"], "cryo-annexe/air");
  EXPECT_NEAR(got["cal_age_days"].get<double>(), 40.0, 0.001);
  EXPECT_NEAR(got["temperature_c"].get<double>(), 17.0, 1e-9);
  const auto& f = got["factors"];
  EXPECT_NEAR(got["uncorrected_fraction"].get<double>() * f["temperature"].get<double>() * f["pressure"].get<double>() *
                  f["humidity"].get<double>(),
              0.2071, 1e-9);
}

TEST(ExplainingARecordedReading, ShowsEveryStepAndProvesIt) {
  RecordedAnnexe plant;
  plant.run(2);
  const auto got = explain_at(plant, plant.readings.back().at);
  EXPECT_EQ(got.code, cli::fine);
  EXPECT_NE(got.err.find("this is the record it left"), std::string::npos) << got.err;
  expect_parts(got.out, {"cryo-annexe/cell-a at ",
                         ": 20.710 % ± ",
                         "quality good (ok)",
                         "from the configuration",
                         "40 d before the reading",
                         "serial LK-000a",
                         "signal now",
                         "zero signal",
                         "sensitivity",
                         "mV/(mol/m³)",
                         "for 40 d since the calibration",
                         "\n  drift  ",
                         "17.00 °C ± 0.3 K",
                         "obtained from",
                         "cryo-annexe/air",
                         "vapour pressure",
                         "1. Signal",
                         "2. Conditions",
                         "3. Correction",
                         "4. Result",
                         "5. Where the uncertainty",
                         "6. Proof",
                         "as the daemon computed it: every digit agrees",
                         "Supplementary monitor."});
  EXPECT_EQ(got.out.find("DIFFER"), std::string::npos);
  EXPECT_EQ(got.out.find("RE-DERIVED"), std::string::npos);
}

TEST(ExplainingARecordedReading, TakesTheLastOneBeforeTheTimeThatIsAsked) {
  RecordedAnnexe plant;
  plant.run(5);
  const auto& third = plant.readings[2];
  EXPECT_EQ(json_at(plant, third.at + milliseconds{999})["stored"]["at"], rfc3339(third.at));
  EXPECT_EQ(json_at(plant, third.at - milliseconds{1})["stored"]["at"], rfc3339(plant.readings[1].at));
}

TEST(ExplainingARecordedReading, SaysLoudlyWhenTheRecordDoesNotFollowFromItsInputs) {
  RecordedAnnexe plant;
  plant.run(1);
  auto recorded = oxygen_at(plant.state.path(), "cryo-annexe", "cell-a", plant.readings.back().at).value().value();
  const double true_value = *recorded.outputs.oxygen;
  recorded.outputs.oxygen = std::nextafter(true_value, 1.0); // the last bit
  FakeDaemon daemon{{R"({"ok":true,"result":)" + recorded_text(recorded) + "}\n"}};
  const auto got = run_words({"explain", "--room", "cryo-annexe", "--sensor", "cell-a", "--state-dir", daemon.dir()});
  EXPECT_EQ(got.code, cli::failed);
  EXPECT_NE(got.err.find("THE RECORDED VALUES DIFFER"), std::string::npos) << got.err;
  expect_parts(got.out, {"THE VALUES DIFFER", json(true_value).dump(), json(*recorded.outputs.oxygen).dump()});
  EXPECT_EQ(got.out.find("every digit agrees"), std::string::npos);
  EXPECT_EQ(json::parse(daemon.requests().at(0)),
            (json{{"command", "recorded"}, {"room", "cryo-annexe"}, {"sensor", "cell-a"}}));
}

TEST(ExplainingARecordedReading, ProvesADerivationAndWhatItSupersededEachByItself) {
  RecordedAnnexe plant;
  plant.run(1);
  auto recorded = oxygen_at(plant.state.path(), "cryo-annexe", "cell-a", plant.readings.back().at).value().value();
  const auto sound = recorded.outputs;
  auto changed = sound;
  changed.oxygen = std::nextafter(*sound.oxygen, 1.0);
  recorded.later = {{7, recorded.at, "R. Finch", "span gas was mistyped"}, recorded.basis, sound};
  const auto answer_of = [&](const OxygenOutputs& first, const OxygenOutputs& later) {
    auto altered = recorded;
    altered.outputs = first;
    altered.later->outputs = later;
    return R"({"ok":true,"result":)" + recorded_text(altered) + "}\n";
  };
  FakeDaemon daemon{{answer_of(sound, sound), answer_of(sound, changed), answer_of(changed, sound)}};
  const std::vector<std::string> words{"explain", "--room",      "cryo-annexe", "--sensor",
                                       "cell-a",  "--state-dir", daemon.dir()};
  const auto both = run_words(words);
  EXPECT_EQ(both.code, cli::fine) << both.err;
  expect_parts(both.out, {"RE-DERIVED: derivation 7 of ", "as derivation 7 computed it: every digit agrees",
                          "with its own calibration: every digit agrees"});
  const auto later_differs = run_words(words);
  EXPECT_EQ(later_differs.code, cli::failed);
  expect_parts(later_differs.out, {"THE VALUES DIFFER", "with its own calibration: every digit agrees"});
  EXPECT_EQ(later_differs.out.find("as derivation 7 computed it"), std::string::npos);
  const auto first_differs = run_words(words);
  EXPECT_EQ(first_differs.code, cli::failed);
  expect_parts(first_differs.out, {"as derivation 7 computed it: every digit agrees", "THE VALUES DIFFER"});
}

TEST(ExplainingARecordedReading, SaysWhyThereIsNoOxygenValue) {
  RecordedAnnexe plant;
  plant.run(1);
  auto broken = plant.annexe.cell_volts(0, 0.0);
  broken.values[0].fault = drivers::ValueFault::not_finite;
  plant.annexe.wall += milliseconds{1000};
  broken.wall = plant.annexe.wall;
  plant.keep(plant.annexe.site->take(broken));
  const auto& last = plant.readings.back();
  ASSERT_FALSE(last.oxygen);
  ASSERT_FALSE(last.reasons.empty());
  const auto got = explain_at(plant, last.at);
  EXPECT_EQ(got.code, cli::fine) << got.err;
  expect_parts(got.out, {"no oxygen value", "quality bad", "NO OXYGEN VALUE, because", last.reasons.front().text,
                         "none that can be used", "every digit agrees"});
  EXPECT_EQ(got.out.find("4. Result"), std::string::npos);
  const auto answer = json_at(plant, last.at);
  EXPECT_TRUE(answer["dry_fraction"].is_null());
  EXPECT_EQ(answer["stored"]["reasons"][0], last.reasons.front().text);
}

TEST(ExplainingARecordedReading, SaysWhichAmbientInputWasLostAndAssumed) {
  RecordedAnnexe plant;
  plant.annexe.start();
  plant.keep(plant.annexe.site->take(plant.annexe.cell_poll(0, 0.2071))); // no probe has answered yet
  const auto answer = json_at(plant, plant.readings.back().at);
  for (const std::string_view key : {"temperature_from", "humidity_from", "pressure_from"})
    EXPECT_EQ(answer[std::string{key}], "cryo-annexe/air, LOST: assumed");
  expect_parts(explain_at(plant, plant.readings.back().at).out,
               {"quality uncertain", "- temperature probe lost", "cryo-annexe/air, LOST: assumed"});
}

// A humidity probe that stands elsewhere has a thermometer of its own: its loss is not that of the room's temperature.
TEST(ExplainingARecordedReading, DoesNotTakeTheThermometerOfALostHumidityProbeForTheRoomsTemperature) {
  RecordedAnnexe plant;
  auto& room = plant.annexe.settings.rooms[0];
  auto dew = room.sensors.back();
  dew.name = "dew";
  room.sensors.insert(room.sensors.end() - 1, dew); // never answers
  room.humidity_from = "cryo-annexe/dew";
  room.temperature_from = "cryo-annexe/air";
  room.pressure_from = "cryo-annexe/air";
  plant.annexe.start();
  static_cast<void>(plant.annexe.site->take(plant.annexe.air_poll()));
  plant.keep(plant.annexe.site->take(plant.annexe.cell_poll(0, 0.2071)));
  const auto answer = json_at(plant, plant.readings.back().at);
  EXPECT_EQ(answer["temperature_from"], "cryo-annexe/air");
  EXPECT_EQ(answer["humidity_from"], "cryo-annexe/dew, LOST: assumed");
  EXPECT_EQ(answer["pressure_from"], "cryo-annexe/air");
  EXPECT_EQ(answer["stored"]["every_digit_agrees"], true);
}

TEST(ExplainingARecordedReading, ExplainsACellThatWasNeverCalibrated) {
  RecordedAnnexe plant;
  plant.annexe.calibrations.clear();
  plant.run(1);
  const auto got = explain_at(plant, plant.readings.back().at);
  EXPECT_EQ(got.code, cli::fine) << got.err;
  expect_parts(got.out, {"none: the cell was not calibrated", "calibrate this cell before relying on it"});
}

TEST(ExplainingARecordedReading, CopesWithATransmitterWithoutCell) {
  RecordedAnnexe plant;
  auto& sensor = plant.annexe.settings.rooms[0].sensors[0];
  sensor.cell.reset();
  sensor.reports_dry = false;
  sensor.points[0].u_si = 0.001;
  plant.annexe.calibrations.clear();
  plant.annexe.start();
  plant.keep(plant.annexe.site->take(plant.annexe.air_poll()));
  plant.keep(plant.annexe.site->take(plant.annexe.cell_volts(0, 0.2031)));
  const auto got = explain_at(plant, plant.readings.back().at);
  EXPECT_EQ(got.code, cli::fine) << got.err;
  expect_parts(got.out, {"Transmitter: reports the oxygen fraction itself", "20.31 % ± 0.1 %", "wet basis",
                         "the transmitter corrects its own cell", "every digit agrees"});
  const auto answer = json_at(plant, plant.readings.back().at);
  EXPECT_NEAR(answer["wet_fraction"].get<double>(), 0.2031, 1e-12);
  EXPECT_TRUE(answer["cal_signal_mv"].is_null());
  EXPECT_EQ(answer["model"], "transmitter");
}

TEST(ExplainingARecordedReading, WarnsOfACalibrationThatIsOverdue) {
  RecordedAnnexe plant;
  plant.annexe.calibrations.at("cryo-annexe/cell-a").at = plant.annexe.wall - std::chrono::hours{24 * 104};
  plant.run(1);
  expect_parts(explain_at(plant, plant.readings.back().at).out,
               {"stale calibration: 104 days old, the cell was due after 90 days"});
}

TEST(ExplainingARecordedReading, GoesByTheSettingsThatTheReadingRestsOn) {
  RecordedAnnexe plant;
  auto& cell = *plant.annexe.settings.rooms[0].sensors[0].cell;
  cell.upkeep.calibrate_every = std::chrono::days{30};
  cell.resolution = millivolts(0.05);
  cell.linearity = 0.004;
  plant.run(1);
  const auto got = explain_at(plant, plant.readings.back().at);
  EXPECT_EQ(got.code, cli::fine) << got.err;
  expect_parts(got.out, {"stale calibration: 40 days old, the cell was due after 30 days", "0.05 mV", "± 0.4 %",
                         "\n  resolution  ", "\n  linearity  "});
}

TEST(ExplainingARecordedReading, RefusesWhatItCannotAnswer) {
  RecordedAnnexe plant;
  plant.run(1);
  struct Row {
    std::vector<std::string> words;
    int code;
    std::string message;
  };
  const std::string room = "cryo-annexe";
  const std::vector<Row> table{
      {{"--room", room}, cli::usage, "--sensor is missing: `oxherd status` lists the sensors of a room, such as "},
      {{"--sensor", "cell-a"}, cli::usage, "--room is missing: "},
      {{"--room", room, "--sensor", "cell-a", "--signal", "12mV"},
       cli::usage,
       "--room asks for a recorded reading, and --signal is a typed value: give the one or the other"},
      {{"--room", room, "--sensor", "cell-a", "--u-zero", "1mV"},
       cli::usage,
       "--room asks for a recorded reading, and"},
      {{"--room", room, "--sensor", "cell-a", "--at", "noon"}, cli::usage, "--at: \"noon\" is not a time; write it "},
      {{"--room", room, "--sensor", "cell-x", "--at", rfc3339(plant.annexe.wall)},
       cli::failed,
       "cryo-annexe/cell-x has no recorded oxygen reading at "},
      {{"--room", room, "--sensor", "cell-a"}, // these readings are of another year
       cli::failed,
       "cryo-annexe/cell-a has no recorded oxygen reading in the last day; --at asks for earlier ones; "}};
  for (const auto& row : table) {
    auto words = row.words;
    words.insert(words.begin(), "explain");
    const auto got = run_words(plant.command(words));
    EXPECT_EQ(got.code, row.code) << row.message;
    EXPECT_TRUE(got.err.starts_with("oxherd explain: " + row.message)) << got.err;
    EXPECT_EQ(got.out, "");
  }
}

TEST(ExplainingARecordedReading, WithoutDaemonAndWithoutRecordsSaysBoth) {
  const cli_test::TemporaryDirectory empty;
  const auto got = run_words({"explain", "--room", "a", "--sensor", "b", "--state-dir", empty.path().string()});
  EXPECT_EQ(got.code, cli::no_daemon);
  expect_parts(got.err, {"no oxherd daemon answers", "no records here"});
}

TEST(ExplainingARecordedReading, PassesOnWhatTheDaemonRefuses) {
  FakeDaemon daemon{{R"({"ok":false,"kind":"none","error":"nothing there"})"
                     "\n",
                     R"({"ok":false,"kind":"unknown","error":"there is no oxygen reading, said in another place"})"
                     "\n",
                     "{\"ok\":true,\"result\":{\"reading\":1}}\n"}};
  const std::vector<std::string> words{"explain", "--room", "a", "--sensor", "b", "--state-dir", daemon.dir()};
  const auto none = run_words(words);
  EXPECT_EQ(none.code, cli::failed);
  expect_parts(none.err, {"a/b has no recorded oxygen reading"});
  const auto unknown = run_words(words); // the kind decides, not the words
  EXPECT_EQ(unknown.code, cli::failed);
  expect_parts(unknown.err, {"oxherd explain: there is no oxygen reading, said in another place"});
  const auto garbage = run_words(words);
  EXPECT_EQ(garbage.code, cli::failed);
  expect_parts(garbage.err, {"a recorded reading cannot be read"});
}

} // namespace oxherd::daemon::explain_stored_test
