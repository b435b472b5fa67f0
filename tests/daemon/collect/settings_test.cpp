#include "daemon/collect/settings.hpp"

#include <fstream>
#include <regex>
#include <set>
#include <sstream>

#include <gtest/gtest.h>

namespace oxherd::daemon::collect::settings_test {

constexpr std::string_view whole = R"([mqtt]
broker = "mqtts://broker.larkfield.example"
sites = ["larkfield", "otherfield"]
session_kept = "7 d"

[database]
host = "db.larkfield.example"
name = "fleet"
user = "historian"
flush_every = "50 ms"

[http]
listen = "off"
)";

CollectSettings read(std::string_view text) {
  const auto loaded = parse_collect_settings(text, "collect.toml");
  EXPECT_TRUE(loaded) << (loaded ? "" : config::to_string(loaded.error().front()));
  return loaded ? loaded->settings : CollectSettings{};
}

std::string refusal_of(std::string_view text) {
  const auto loaded = parse_collect_settings(text, "collect.toml");
  std::string all;
  if (!loaded)
    for (const auto& problem : loaded.error()) all += config::to_string(problem) + '\n';
  return all;
}

TEST(TheSettingsOfTheHistorian, AreReadWithTheirUnits) {
  const auto settings = read(whole);
  EXPECT_EQ(settings.mqtt.broker, "mqtts://broker.larkfield.example:8883");
  EXPECT_EQ(settings.session_kept, std::chrono::hours{168});
  EXPECT_EQ(settings.database.name, "fleet");
  EXPECT_EQ(settings.database.flush_every, std::chrono::milliseconds{50});
  EXPECT_FALSE(settings.http);
  EXPECT_EQ(topic_filters(settings), (std::vector<std::string>{"oxherd/larkfield/#", "oxherd/otherfield/#"}));
}

TEST(TheSettingsOfTheHistorian, NeedTheBrokerAlone) {
  const auto settings = read("[mqtt]\nbroker = \"mqtt://127.0.0.1\"\n");
  EXPECT_EQ(settings.mqtt.client_id, "oxherd-collect");
  EXPECT_EQ(topic_filters(settings), (std::vector<std::string>{"oxherd/+/#"}));
  ASSERT_TRUE(settings.http);
  EXPECT_EQ(settings.http->host, "127.0.0.1");
  EXPECT_NE(refusal_of("").find("collect.toml:1:1: mqtt: missing"), std::string::npos) << refusal_of("");
}

TEST(TheSettingsOfTheHistorian, KnowNothingOfSparkplugWhichADaemonPublishes) {
  const auto why = refusal_of("[mqtt]\nbroker = \"mqtt://127.0.0.1\"\n[mqtt.sparkplug]\ngroup = \"farms\"\n");
  EXPECT_NE(why.find("mqtt.sparkplug: belongs to a daemon's file"), std::string::npos) << why;
}

TEST(TheSettingsOfTheHistorian, AreRefusedWithThePlaceOfEachFault) {
  const auto why = refusal_of("[mqtt]\nbroker = \"mqtt://127.0.0.1\"\nsites = \"a b\"\nqueue_max = 100\n[database]\n"
                              "password = \"x\"\nport = 0\nca_file = \"x\"\nflush_every = \"1 h\"\nnmae = \"x\"\n");
  for (const auto* expected :
       {"collect.toml:3:9: mqtt.sites", "collect.toml:4:13: mqtt.queue_max", "collect.toml:6:12: database.password",
        "collect.toml:7:8: database.port", "collect.toml:8:11: database.ca_file", "10 ms to 10 s",
        "collect.toml:10:1: database.nmae"})
    EXPECT_NE(why.find(expected), std::string::npos) << expected << " in\n" << why;
}

TEST(TheWordsForTheDatabase, CannotBeBrokenByANameAndDemandTlsOfOtherMachines) {
  DatabaseSettings database;
  database.name = R"(o'x host=evil\)";
  auto words = connection_words(database);
  ASSERT_TRUE(words);
  EXPECT_NE(words->find(R"(dbname='o\'x host=evil\\')"), std::string::npos) << *words;
  EXPECT_EQ(words->find("sslmode"), std::string::npos) << *words;
  database.host = "db.larkfield.example";
  words = connection_words(database);
  ASSERT_TRUE(words);
  EXPECT_NE(words->find("sslmode=verify-full"), std::string::npos) << *words;
  database.password_file = "/nowhere/password";
  EXPECT_FALSE(connection_words(database));
}

/// What the reader names as known where a key is not.
std::set<std::string> known_keys() {
  const auto why = refusal_of("[mqtt]\nqqqqqqqqqqqqqqqqqqqq = 1\n[database]\nqqqqqqqqqqqqqqqqqqqq = 1\n[http]\n"
                              "qqqqqqqqqqqqqqqqqqqq = 1\n");
  std::set<std::string> keys;
  std::istringstream lines{why};
  const std::regex quoted{R"RE("([^"]+)")RE"};
  for (std::string line; std::getline(lines, line);) {
    const auto start = line.find("known here: ");
    if (start == std::string::npos) continue;
    const auto list = line.substr(start);
    for (std::sregex_iterator it{list.begin(), list.end(), quoted}, end; it != end; ++it) keys.insert((*it)[1].str());
  }
  keys.erase("password"); // known only to say why it does not belong there
  keys.erase("pack");
  keys.erase("queue_max");
  keys.erase("sparkplug");
  return keys;
}

TEST(ThePageOfTheSettingsOfTheHistorian, DescribesTheKeysThatThereAre) {
  std::ifstream in{std::string{OXHERD_SOURCE_DIR} + "/man/oxherd-collect.toml.5"};
  std::ostringstream text;
  text << in.rdbuf();
  const auto page = text.str();
  std::set<std::string> described;
  const std::regex bold{R"(\\fB([a-z_]+)\\fR)"};
  for (std::sregex_iterator it{page.begin(), page.end(), bold}, end; it != end; ++it) described.insert((*it)[1].str());
  EXPECT_EQ(described, known_keys());
}

} // namespace oxherd::daemon::collect::settings_test
