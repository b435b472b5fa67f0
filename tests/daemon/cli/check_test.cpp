#include <algorithm>

#include "daemon/cli/check_summary.hpp"

#include <nlohmann/json.hpp>

#include "tests/daemon/cli/cli_fixture.hpp"

namespace oxherd::daemon::check_test {

using cli_test::run_words;
using cli_test::TemporaryDirectory;
using nlohmann::json;

/// The demonstration's file with the profiles of the source tree beside it.
class CheckOfAFile : public testing::Test {
protected:
  CheckOfAFile() {
    std::filesystem::create_directory_symlink(std::filesystem::path{OXHERD_SOURCE_DIR} / "config/profiles",
                                              directory_.path() / "profiles");
    std::ifstream in{std::filesystem::path{OXHERD_SOURCE_DIR} / "demo/larkfield.toml"};
    good_.assign(std::istreambuf_iterator<char>{in}, {});
  }
  [[nodiscard]] std::string with(std::string_view before, std::string_view after) const {
    auto text = good_;
    const auto at = text.find(before);
    EXPECT_NE(at, std::string::npos) << before;
    if (at != std::string::npos) text.replace(at, before.size(), after);
    return directory_.file("oxherd.toml", text);
  }

  TemporaryDirectory directory_;
  std::string good_;
};

TEST_F(CheckOfAFile, SummarisesAGoodOne) {
  const auto got = run_words({"check", "--config", with("", "")});
  EXPECT_EQ(got.code, cli::fine) << got.out;
  EXPECT_EQ(got.err, "");
  for (const std::string_view part :
       {"oxherd.toml: no problems\n",
        "site larkfield, 212 m above sea level: 4 rooms, 12 sensors, 16 alarms, 5 outputs",
        "cryo-annexe (occupied), oxygen vote 2oo3", "oxygen at or below 19.5 %", "carbon-dioxide at or above 5000 ppm",
        "Supplementary monitor."})
    EXPECT_NE(got.out.find(part), std::string::npos) << part;
  EXPECT_NE(got.out.find("occupied, ventilated-before-entry  critical  safety   25.5 s\n"), std::string::npos)
      << got.out;
  // 20 s response + 1 s poll + 3 s on-delay + 0.5 s
  EXPECT_NE(got.out.find("critical  safety  24.5 s\n"), std::string::npos) << got.out;
}

TEST_F(CheckOfAFile, SaysWhatEachConditionWaitsFor) {
  constexpr std::string_view before = "[room.cryo-annexe.alarm.low-oxygen]";
  const std::string more = R"([room.cryo-annexe.alarm.falling]
quantity = "oxygen"
condition = "rate-of-fall"
fall_per_minute = "0.5 %"

[room.cryo-annexe.alarm.near]
quantity = "oxygen"
condition = "time-to-limit"
below = "19.5 %"

[room.cryo-annexe.alarm.shift]
quantity = "oxygen"
condition = "time-average"
below = "19.5 %"

[room.cryo-annexe.alarm.differ]
quantity = "oxygen"
condition = "disagreement"

[room.cryo-annexe.alarm.off]
quantity = "oxygen"
condition = "deviation"
set_point = "20.9 %"
deviation = "0.5 %"

)";
  const auto got = run_words({"check", "--config", with(before, more + std::string{before})});
  EXPECT_EQ(got.code, cli::fine) << got.out;
  for (const std::string_view part :
       {"oxygen falls 0.5 % per minute, over 1 min", "oxygen at or below 19.5 % within 10 min",
        "oxygen over 8 h at or below 19.5 %", "oxygen channels differ by 0.5 %", "oxygen off 20.9 % by 0.5 %",
        "a vote lacks a channel", "the room is not monitored"})
    EXPECT_NE(got.out.find(part), std::string::npos) << part << '\n' << got.out;
}

TEST_F(CheckOfAFile, PrintsEveryProblemWithItsPlace) {
  auto text = good_;
  const auto replace = [&](std::string_view before, std::string_view after) {
    text.replace(text.find(before), before.size(), after);
  };
  replace("below = \"19.5 %\"", "below = \"19.5 kPa\"");
  replace("oxygen_vote = \"2oo3\"", "oxygen_vot = \"2oo3\"");
  const auto file = directory_.file("bad.toml", text);
  const auto got = run_words({"check", "--config", file});
  EXPECT_EQ(got.code, cli::failed);
  const auto line = 1 + std::ranges::count(text.substr(0, text.find("oxygen_vot =")), '\n');
  EXPECT_NE(got.out.find(file + ":" + std::to_string(line) + ":1: room.cryo-annexe.oxygen_vot: "), std::string::npos)
      << got.out;
  EXPECT_NE(got.out.find(": room.cryo-annexe.alarm.low-oxygen.below: \"19.5 kPa\" is a pressure"), std::string::npos)
      << got.out;
  EXPECT_NE(got.out.find("bad.toml: "), std::string::npos);
  EXPECT_EQ(got.out.find("worst case"), std::string::npos);
}

TEST_F(CheckOfAFile, GivesProblemsAsJsonToo) {
  const auto got = run_words({"check", "--json", "--config", with("below = \"19.5 %\"", "below = \"19.5 kPa\"")});
  EXPECT_EQ(got.code, cli::failed);
  const auto answer = json::parse(got.out, nullptr, false);
  ASSERT_TRUE(answer.is_object()) << got.out;
  EXPECT_EQ(answer["ok"], false);
  ASSERT_FALSE(answer["problems"].empty());
  EXPECT_EQ(answer["problems"][0]["severity"], "error");
  EXPECT_EQ(answer["problems"][0]["key"], "room.cryo-annexe.alarm.low-oxygen.below");
  EXPECT_GT(answer["problems"][0]["line"].get<int>(), 1);
  EXPECT_EQ(answer["rooms"], json::array());
}

TEST_F(CheckOfAFile, GivesRoomsAsJsonToo) {
  const auto got = run_words({"check", "--json", "--config", with("", "")});
  EXPECT_EQ(got.code, cli::fine);
  const auto answer = json::parse(got.out, nullptr, false);
  ASSERT_TRUE(answer.is_object()) << got.out;
  EXPECT_EQ(answer["ok"], true);
  EXPECT_EQ(answer["problems"], json::array());
  ASSERT_EQ(answer["rooms"].size(), 4U);
  for (const auto& room : answer["rooms"]) {
    if (room["room"] != "cryo-annexe") continue;
    EXPECT_EQ(room["oxygen_vote"], "2oo3");
    ASSERT_EQ(room["sensors"].size(), 4U);
    for (const auto& alarm : room["alarms"]) {
      if (alarm["alarm"] == "low-oxygen") {
        EXPECT_EQ(alarm["limit"].get<double>(), 0.195);
        EXPECT_EQ(alarm["direction"], "low");
        EXPECT_EQ(alarm["worst_case_s"].get<double>(), 24.5);
      }
      if (alarm["quantity"] != "monitoring") continue;
      EXPECT_TRUE(alarm["limit"].is_null());
    }
  }
}

TEST_F(CheckOfAFile, SaysWhenThereIsNone) {
  const auto missing = (directory_.path() / "nothing.toml").string();
  const auto got = run_words({"check", "--config", missing});
  EXPECT_EQ(got.code, cli::failed);
  EXPECT_NE(got.out.find("nothing.toml"), std::string::npos);
  EXPECT_NE(got.out.find(": 1 error\n"), std::string::npos) << got.out;
}

TEST_F(CheckOfAFile, SaysWhoIsToldAndWhenNobodyIs) {
  EXPECT_NE(run_words({"check", "--config", with("", "")}).out.find("Nobody is told of alarms"), std::string::npos);
  const auto file = directory_.file("people.toml", good_ + R"(
[route.log]
kind = "syslog"
[contact.okafor]
route = "log"
[contact.finch]
route = "log"
[watcher]
url = "https://watch.larkfield.example/"
)");
  const auto got = run_words({"check", "--config", file}).out;
  for (const std::string_view part :
       {"  critical  at once okafor; after 1 min finch; after 3 min finch; after 5 min everyone; again every 5 min\n",
        "  medium    at once okafor (in working hours)\n", "  low       in a daily digest: okafor\n"})
    EXPECT_NE(got.find(part), std::string::npos) << part << got;
  EXPECT_EQ(got.find("Nobody"), std::string::npos) << got;
}

TEST(WorstCase, OfAnUnmonitoredRoomCountsFromTheLastGoodSample) {
  using namespace std::chrono_literals;
  config::Room room;
  room.sensors.resize(2);
  room.sensors[1].every = 1s;
  config::AlarmSettings alarm;
  alarm.quantity = config::AlarmQuantity::monitoring;
  alarm.alarm.rule = alarms::NotMonitored{.on_delay = 10s, .off_delay = 5s};
  room.sensors[0].every = 1s;
  EXPECT_EQ(cli::worst_case(room, alarm), 15500ms); // 5 s at least
  room.sensors[0].every = 4s;
  EXPECT_EQ(cli::worst_case(room, alarm), 22500ms); // three polls of the slowest
}

} // namespace oxherd::daemon::check_test
