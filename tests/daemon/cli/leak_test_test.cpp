#include <cmath>
#include <functional>
#include <numbers>

#include <nlohmann/json.hpp>

#include "daemon/cli/leak_test_text.hpp"
#include "daemon/payloads.hpp"
#include "daemon/time_text.hpp"
#include "tests/daemon/cli/cli_fixture.hpp"

// Leak tests on recorded readings that follow the closed form.
namespace oxherd::daemon::leak_test_test {

using cli_test::FakeDaemon;
using cli_test::run_words;
using nlohmann::json;
using Words = std::vector<std::string>;

constexpr double half_life_s = 1500.0;
const double tau_s = half_life_s / std::numbers::ln2;

/// Readings of one sensor at a steady pace, each as a function of its time makes it.
struct Recorder {
  std::string room, sensor;
  int every_s = 10;
  std::function<void(StoredReading&, double)> fill;
};

ReadingHistory recorded(const std::vector<Recorder>& recorders, int seconds) {
  const auto begin = parse_rfc3339("2026-03-01T08:00:00Z").value();
  ReadingHistory out;
  for (const auto& one : recorders)
    for (int t_s = 0; t_s <= seconds; t_s += one.every_s) {
      StoredReading reading;
      reading.at = begin + std::chrono::seconds{t_s};
      reading.room = one.room;
      reading.sensor = one.sensor;
      reading.quality = "good";
      reading.status = "ok";
      one.fill(reading, t_s);
      out.readings.push_back(std::move(reading));
    }
  return out;
}

std::string answer_of(const ReadingHistory& history) {
  return R"({"ok":true,"result":)" + history_payload(history) + "}\n";
}

double over_pressure_Pa(double t_s) { return 200.0 * std::exp(-t_s / tau_s); }

Recorder gauge(const std::string& sensor = "draught") {
  return {"pear-store-2", sensor, 10, [](StoredReading& r, double t_s) {
            r.over_pressure_Pa = over_pressure_Pa(t_s);
            r.u_over_pressure_Pa = 1.0;
          }};
}
Recorder probe(int every_s = 10) {
  return {"pear-store-2", "air", every_s, [](StoredReading& r, double) {
            r.temperature_K = 274.15;
            r.u_temperature_K = 0.01;
          }};
}
Recorder barometer(const std::string& room = "growth-chamber-1", const std::string& sensor = "barometer") {
  return {room, sensor, 30, [room](StoredReading& r, double t_s) {
            const bool inside = room == "pear-store-2"; // then it shows what the gauge shows as well
            r.pressure_Pa = 97000.0 + (inside ? over_pressure_Pa(t_s) : 0.0);
            r.u_pressure_Pa = 5.0;
          }};
}

/// Half an hour of the store, in the two answers that the command asks for.
std::vector<std::string> two_answers(const std::vector<Recorder>& room) {
  return {answer_of(recorded(room, 1800)), answer_of(recorded({barometer()}, 1800))};
}

Words command(const FakeDaemon& daemon, Words more = {}) {
  Words words{
      "leak-test", "pear-store-2", "--from", "2026-03-01T08:00:00Z", "--to",      "2026-03-01T08:30:00Z", "--volume",
      "130 m3",    "--u-volume",   "1.3 m3", "--state-dir",          daemon.dir()};
  words.insert(words.end(), more.begin(), more.end());
  return words;
}
Words by_pressure(const FakeDaemon& daemon, Words more = {}) {
  more.insert(more.end(), {"--barometer", "growth-chamber-1/barometer", "--u-zero", "0.2 Pa"});
  return command(daemon, std::move(more));
}

/// Both ends of an interval in the answer.
bool holds(const json& interval, double value) { return interval.at(0) < value && value < interval.at(1); }

TEST(LeakTestByPressure, FindsTheHalfLifeOfAKnownDecay) {
  FakeDaemon daemon{two_answers({gauge(), probe()})};
  const auto got = run_words(by_pressure(daemon, {"--json"}));
  ASSERT_EQ(got.code, cli::fine) << got.err;
  const auto result = json::parse(got.out);
  EXPECT_NEAR(result["half_life_s"].get<double>(), half_life_s, 0.5);
  EXPECT_TRUE(holds(result["half_life_95_s"], half_life_s)) << got.out;
  EXPECT_EQ(result["samples"], 61) << "the barometer was read least often";
  // By hand: V p / (p_atm tau), and that flow through 0.61 A sqrt(2 p / rho) with rho = p_atm / (287.05 T).
  EXPECT_NEAR(result["leak_m3_per_h"].get<double>(), 0.4459, 0.0002);
  EXPECT_NEAR(result["air_changes_per_h"].get<double>(), 0.003430, 0.000002);
  EXPECT_NEAR(result["equivalent_hole_cm2"].get<double>(), 0.1127, 0.0001);
  EXPECT_NEAR(result["first_pa"].get<double>(), 200.0, 0.1);
  EXPECT_EQ(result["explained"], true);
  EXPECT_EQ(result["barometer"], "growth-chamber-1/barometer");
  EXPECT_EQ(result["barometer_inside"], false);
  EXPECT_NE(result["caution"].get<std::string>().find("Supplementary monitor."), std::string::npos);
}

TEST(LeakTestByPressure, JudgesEachCriterionOfCommonPractice) {
  FakeDaemon daemon{two_answers({gauge(), probe()})};
  const auto criteria = json::parse(run_words(by_pressure(daemon, {"--json"})).out)["criteria"];
  ASSERT_EQ(criteria.size(), 4U);
  // 1500 s are more than 20 min and less than 30 min; from 187 to 125 Pa takes 872 s, more than 7 and 10 min.
  const Words verdicts{"passed", "failed", "passed", "passed"};
  for (std::size_t i = 0; i < verdicts.size(); ++i) {
    EXPECT_EQ(criteria[i]["verdict"], verdicts[i]) << criteria[i];
    EXPECT_EQ(criteria[i]["source"], "common practice");
  }
  EXPECT_NEAR(criteria[2]["fall_s"].get<double>(), 871.7, 0.3);
}

TEST(LeakTestByPressure, LeavesOpenWhatTheUncertaintiesDoNotDecide) {
  FakeDaemon daemon{two_answers({gauge(), probe()})};
  const auto got = run_words(by_pressure(daemon, {"--json", "--u-temperature", "0.1 K"}));
  ASSERT_EQ(got.code, cli::fine) << got.err;
  EXPECT_EQ(json::parse(got.out)["criteria"][1]["verdict"], "undecided") << got.out;
}

TEST(LeakTestByPressure, PrintsResultVerdictsAndWhatToDoInTheField) {
  FakeDaemon daemon{two_answers({gauge(), probe()})};
  const auto got = run_words(by_pressure(daemon));
  ASSERT_EQ(got.code, cli::fine) << got.err;
  for (const auto* part :
       {"Leak test of pear-store-2 by pressure, ", "half-life              25 min",
        "95 %: ", "leak at 200 Pa         0.446 m3/h", "equivalent hole        0.113 cm2",
        "criterion (common practice, no source)", "passed", "FAILED", "explained by the stated uncertainties",
        "nobody inside", "fans and cooling off", "relief valve isolated",
        "no substitute for testing the air before anybody enters", "Supplementary monitor."}) {
    auto flat = got.out; // however it is wrapped
    for (auto& c : flat) c = c == '\n' ? ' ' : c;
    EXPECT_NE(flat.find(part), std::string::npos) << part << '\n' << got.out;
  }
}

TEST(LeakTestByPressure, AsksForTheRoomAndForItsBarometer) {
  FakeDaemon daemon{two_answers({gauge(), probe()})};
  run_words(by_pressure(daemon));
  json expected{{"command", "history"},
                {"what", "readings"},
                {"room", "pear-store-2"},
                {"from", "2026-03-01T08:00:00.000Z"},
                {"to", "2026-03-01T08:30:00.000Z"},
                {"limit", 100000}};
  ASSERT_EQ(daemon.requests().size(), 2U);
  EXPECT_EQ(json::parse(daemon.requests()[0]), expected);
  expected["room"] = "growth-chamber-1";
  expected["sensor"] = "barometer";
  EXPECT_EQ(json::parse(daemon.requests()[1]), expected);
}

TEST(LeakTestByPressure, TakesTheOverPressureOffABarometerInTheRoomItself) {
  FakeDaemon daemon{{answer_of(recorded({gauge(), probe(), barometer("pear-store-2")}, 1800))}};
  const auto got =
      run_words(command(daemon, {"--barometer", "pear-store-2/barometer", "--u-zero", "0.2 Pa", "--json"}));
  ASSERT_EQ(got.code, cli::fine) << got.err;
  const auto result = json::parse(got.out);
  EXPECT_NEAR(result["half_life_s"].get<double>(), half_life_s, 0.5);
  EXPECT_EQ(result["barometer_inside"], true);
  EXPECT_NEAR(result["barometer_range_pa"].get<double>(), 0.0, 1e-6);
}

TEST(LeakTestByPressure, CorrectsForARoomThatWarms) {
  // 0.02 K in half an hour are 7 Pa; what the weather adds leaks away as well.
  const double warming_Pa_s = 97200.0 / 274.15 * 0.02 / 1800.0;
  const auto warmed = [&](double t_s) {
    const double end_Pa = warming_Pa_s * tau_s;
    return end_Pa + (200.0 - end_Pa) * std::exp(-t_s / tau_s);
  };
  const Recorder warming_gauge{"pear-store-2", "draught", 10, [&](StoredReading& r, double t_s) {
                                 r.over_pressure_Pa = warmed(t_s);
                                 r.u_over_pressure_Pa = 0.5;
                               }};
  const Recorder warming_probe{"pear-store-2", "air", 10, [](StoredReading& r, double t_s) {
                                 r.temperature_K = 274.15 + 0.02 * t_s / 1800.0;
                                 r.u_temperature_K = 0.003;
                               }};
  FakeDaemon daemon{two_answers({warming_gauge, warming_probe})};
  const auto got = run_words(by_pressure(daemon, {"--json"}));
  ASSERT_EQ(got.code, cli::fine) << got.err;
  const auto result = json::parse(got.out);
  EXPECT_NEAR(result["half_life_s"].get<double>(), half_life_s, 2.0);
  EXPECT_NEAR(result["correction_pa"].get<double>(), 7.1, 0.1);
}

TEST(LeakTestByPressure, LeavesBadReadingsOutAndCountsThem) {
  const Recorder failing{"pear-store-2", "draught", 10, [](StoredReading& r, double t_s) {
                           if (t_s == 500.0) r.quality = "bad";
                           if (t_s != 600.0) r.over_pressure_Pa = t_s == 500.0 ? 900.0 : over_pressure_Pa(t_s);
                           r.u_over_pressure_Pa = 1.0;
                         }};
  FakeDaemon daemon{two_answers({failing, probe()})};
  const auto result = json::parse(run_words(by_pressure(daemon, {"--json"})).out);
  EXPECT_EQ(result["left_out"], 2);
  // On the straight line between its neighbours, a reading in place of one that is missing is off by 1 mPa.
  EXPECT_NEAR(result["half_life_s"].get<double>(), half_life_s, 0.5);
}

/// What the command says when records tell nothing, and that it ends with 1.
std::string refusal_of(std::vector<std::string> answers, Words more = {}) {
  FakeDaemon daemon{std::move(answers)};
  const auto got = run_words(by_pressure(daemon, std::move(more)));
  EXPECT_EQ(got.code, cli::failed);
  EXPECT_EQ(got.out, "");
  EXPECT_TRUE(got.err.starts_with("oxherd leak-test: ")) << got.err;
  return got.err.substr(std::min<std::size_t>(got.err.size(), 18));
}

TEST(LeakTestRefusals, SayWhatIsMissingAndWhatToDo) {
  EXPECT_TRUE(refusal_of(two_answers({probe()})).starts_with("no over-pressure was recorded in that time"));
  EXPECT_TRUE(refusal_of(two_answers({gauge()})).starts_with("no temperature was recorded in that time"));
  EXPECT_EQ(refusal_of(two_answers({gauge("a"), gauge("b"), probe()})),
            "several sensors recorded over-pressure: name one with --sensor: a, b\n");
  EXPECT_EQ(refusal_of(two_answers({gauge("a"), gauge("b"), probe()}), {"--sensor", "c"}),
            "c recorded no over-pressure in that time; it was recorded by a, b\n");
  const auto without = refusal_of({answer_of(recorded({gauge(), probe()}, 1800)), answer_of({})});
  EXPECT_NE(without.find("no pressure was recorded in that time"), std::string::npos) << without;
  EXPECT_NE(without.find("without a barometer the weather cannot be told from a leak"), std::string::npos);
  auto too_many = recorded({gauge(), probe()}, 60);
  too_many.truncated = true;
  EXPECT_EQ(refusal_of({answer_of(too_many)}), "there are more than 100000 readings in that time: narrow it\n");
}

TEST(LeakTestRefusals, AreThoseOfTheCalculationInItsOwnWords) {
  const auto brief =
      std::vector<std::string>{answer_of(recorded({gauge(), probe()}, 60)), answer_of(recorded({barometer()}, 60))};
  EXPECT_EQ(refusal_of(brief), "3 readings: a leak test needs 8; let it run longer\n");
  const Recorder high{"pear-store-2", "draught", 10, [](StoredReading& r, double t_s) {
                        r.over_pressure_Pa = over_pressure_Pa(t_s) + 100.0;
                        r.u_over_pressure_Pa = 1.0;
                      }};
  EXPECT_NE(refusal_of(two_answers({high, probe()})).find("beyond the relief setting of 250 Pa"), std::string::npos);
  const Recorder still{"pear-store-2", "draught", 10, [](StoredReading& r, double) {
                         r.over_pressure_Pa = 150.0;
                         r.u_over_pressure_Pa = 1.0;
                       }};
  EXPECT_NE(refusal_of(two_answers({still, probe()})).find("does not fall beyond doubt"), std::string::npos);
}

TEST(LeakTestRefusals, NoticeAClockThatWasSetMeanwhile) {
  auto jumped = recorded({gauge(), probe()}, 1800);
  jumped.readings[50].at -= std::chrono::minutes{5};
  EXPECT_EQ(refusal_of({answer_of(jumped), answer_of(recorded({barometer()}, 1800))}),
            "the recorded times do not ascend: the clock was set meanwhile; test again\n");
}

/// A gas that comes back to what it is outdoors, with so many air changes an hour.
std::vector<std::string> tracer(bool of_oxygen, double first, double end, double per_h) {
  return {answer_of(recorded({{"pear-store-2", "cell", 60,
                               [=](StoredReading& r, double t_s) {
                                 const double now = end + (first - end) * std::exp(-per_h * t_s / 3600.0);
                                 (of_oxygen ? r.oxygen : r.carbon_dioxide) = now;
                                 (of_oxygen ? r.u_oxygen : r.u_carbon_dioxide) = now * 0.002;
                               }}},
                             6 * 3600))};
}

TEST(LeakTestByOxygen, FindsTheAirChangesOfAKnownRise) {
  FakeDaemon daemon{tracer(true, 0.02, 0.20946, 0.05)};
  const auto got = run_words(command(daemon, {"--method", "oxygen", "--json"}));
  ASSERT_EQ(got.code, cli::fine) << got.err;
  const auto result = json::parse(got.out);
  EXPECT_NEAR(result["air_changes_per_h"].get<double>(), 0.05, 1e-4);
  EXPECT_TRUE(holds(result["air_changes_95_per_h"], 0.05)) << got.out;
  EXPECT_EQ(result["method"], "oxygen");
  EXPECT_EQ(result["samples"], 361);
  EXPECT_FALSE(result.contains("criteria"));
  EXPECT_EQ(daemon.requests().size(), 1U) << "no barometer is needed";
}

TEST(LeakTestByOxygen, CountsWhatGoodsUseAsItIsTyped) {
  // Goods that use 0.1 % an hour let the room come to rest at Ca + S / N = 20.946 % - 0.1 / 0.05 %.
  FakeDaemon daemon{tracer(true, 0.02, 0.20946 - 0.02, 0.05)};
  const auto got = run_words(command(daemon, {"--method", "oxygen", "--source", "-0.1 %", "--u-source", "0.01 %"}));
  ASSERT_EQ(got.code, cli::fine) << got.err;
  EXPECT_NE(got.out.find("air changes                  0.05 /h"), std::string::npos) << got.out;
  EXPECT_NE(got.out.find("outdoor air                  6.5 m3/h"), std::string::npos) << got.out;
  EXPECT_NE(got.out.find("comes to rest at    18.946 %; outdoors 20.946 %"), std::string::npos) << got.out;
  EXPECT_NE(got.out.find("without the source"), std::string::npos) << got.out;
}

TEST(LeakTestByCarbonDioxide, FindsTheAirChangesOfAKnownDecay) {
  FakeDaemon daemon{tracer(false, 0.01, 425e-6, 0.4)};
  const auto got = run_words(command(daemon, {"--method", "carbon-dioxide", "--json"}));
  ASSERT_EQ(got.code, cli::fine) << got.err;
  const auto result = json::parse(got.out);
  EXPECT_TRUE(holds(result["air_changes_95_per_h"], 0.4)) << got.out;
  EXPECT_NEAR(result["air_changes_per_h"].get<double>(), 0.4, 1e-3);
}

TEST(LeakTestByCarbonDioxide, RefusesARoomThatIsLikeOutdoorAir) {
  FakeDaemon daemon{tracer(false, 430e-6, 425e-6, 0.4)};
  const auto got = run_words(command(daemon, {"--method", "carbon-dioxide"}));
  EXPECT_EQ(got.code, cli::failed);
  EXPECT_NE(got.err.find("hardly differs from outdoor air"), std::string::npos) << got.err;
}

TEST(LeakTest, RefusesAWrongCommandLine) {
  struct Row {
    Words words;
    std::string message;
  };
  const std::vector<Row> table{
      {{}, "name one room, such as pear-store-2"},
      {{"pear-store-2"}, "--from is missing: when the room was shut and left alone; or --last 30min"},
      {{"pear-store-2", "--last", "30min", "--method", "oxigen"},
       "--method: there is no \"oxigen\"; did you mean \"oxygen\"?"},
      {{"pear-store-2", "--last", "30min", "--method", "oxygen", "--at", "100 Pa"},
       "--at belongs to --method pressure"},
      {{"pear-store-2", "--last", "30min", "--source", "1 %"}, "--source belongs to --method oxygen or carbon-dioxide"},
      {{"pear-store-2", "--last", "30min", "--barometer", "barometer"},
       "--barometer: \"barometer\" is not a sensor; write ROOM/SENSOR"},
      {{"pear-store-2", "--last", "30min", "--volume", "130"},
       "--volume: \"130\" has no unit; write a volume such as \"200 m3\""},
      {{"pear-store-2", "--last", "30min", "--volume", "-1 m3", "--barometer", "a/b"},
       "--volume: the room's free volume must be above 0 m3"},
      {{"pear-store-2", "--last", "30min", "--u-zero", "-1 Pa"}, "--u-zero: a standard uncertainty cannot be negative"},
      {{"pear-store-2", "--from", "2026-03-01T08:00:00Z", "--to", "2026-03-01T07:00:00Z"},
       "the start lies after the end: nothing can be in between"}};
  for (const auto& row : table) {
    auto words = row.words;
    words.insert(words.begin(), "leak-test");
    const auto got = run_words(words);
    EXPECT_EQ(got.code, cli::usage) << row.message;
    EXPECT_EQ(got.err, "oxherd leak-test: " + row.message + '\n');
  }
}

TEST(LeakTest, TakesVolumeAndBarometerFromTheSettings) {
  const cli_test::TemporaryDirectory dir;
  const auto words = [&](const std::string& room, const std::string& config, const std::string& state) {
    return Words{
        "leak-test",   room,  "--from", "2026-03-01T08:00:00Z", "--to", "2026-03-01T08:30:00Z", "--config", config,
        "--state-dir", state, "--json"};
  };
  const std::string larkfield = std::string{OXHERD_SOURCE_DIR} + "/demo/larkfield.toml";
  FakeDaemon daemon{
      {answer_of(recorded({gauge(), probe()}, 1800)), answer_of(recorded({barometer("cryo-annexe", "air")}, 1800))}};
  const auto got = run_words(words("pear-store-2", larkfield, daemon.dir()));
  ASSERT_EQ(got.code, cli::fine) << got.err;
  EXPECT_EQ(json::parse(got.out)["volume_m3"], 130.0);
  EXPECT_EQ(json::parse(got.out)["u_volume_m3"], 13.0);
  EXPECT_EQ(json::parse(got.out)["barometer"], "cryo-annexe/air");
  const auto mistyped = run_words(words("pear-store", larkfield, daemon.dir()));
  EXPECT_EQ(mistyped.code, cli::usage);
  EXPECT_NE(mistyped.err.find("there is no room \"pear-store\""), std::string::npos) << mistyped.err;
  const auto missing = run_words(words("pear-store-2", (dir.path() / "no.toml").string(), daemon.dir()));
  EXPECT_EQ(missing.code, cli::failed);
  EXPECT_NE(missing.err.find("Without them --volume and --barometer are typed"), std::string::npos) << missing.err;
}

} // namespace oxherd::daemon::leak_test_test
