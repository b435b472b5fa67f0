// man/oxherd.toml.5 describes every key that the loader knows, and none that it does not.
#include <algorithm>
#include <fstream>
#include <map>
#include <regex>
#include <set>
#include <sstream>

#include "config/profile.hpp"
#include "tests/config/sample.hpp"

namespace oxherd::manual_test {

namespace fs = std::filesystem;
using Keys = std::set<std::string>;

/// A key that resembles none, so that the loader lists all that it knows beside it.
constexpr std::string_view nonsense = "qqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqq";

/// One table of every kind, one alarm of every condition, one output and route of every kind. NONSENSE stands in each.
constexpr std::string_view everything = R"(NONSENSE
[site]
NONSENSE
[mqtt]
NONSENSE
[mqtt.sparkplug]
NONSENSE
[store]
NONSENSE
[http]
NONSENSE
[bus.tcp]
kind = "modbus-tcp"
NONSENSE
[bus.rtu]
kind = "modbus-rtu"
NONSENSE
[room.annexe]
oxygen_vote = "1oo2"
NONSENSE
[room.annexe.entry_lock]
NONSENSE
[room.annexe.sensor.cell]
measures = "oxygen"
profile = "millivolts-float32"
NONSENSE
[room.annexe.sensor.cell.u]
NONSENSE
[room.annexe.sensor.cell.ndir]
NONSENSE
[room.annexe.sensor.cell.cell]
model = "nernst"
NONSENSE
[room.annexe.sensor.cell.cell.temperature_response]
NONSENSE
[room.annexe.sensor.cell.cell.reference]
NONSENSE
[room.annexe.sensor.cell.calibration]
elevation = "212 m"
NONSENSE
[room.annexe.sensor.cell.calibration.low]
elevation = "212 m"
NONSENSE
[room.annexe.alarm.degraded]
NONSENSE
[room.annexe.alarm.not-monitored]
NONSENSE
[room.annexe.alarm.output-lost]
NONSENSE
[room.annexe.alarm.limit]
quantity = "oxygen"
NONSENSE
[room.annexe.alarm.limit.suppressed]
NONSENSE
[room.annexe.alarm.rate]
quantity = "oxygen"
condition = "rate-of-fall"
NONSENSE
[room.annexe.alarm.forecast]
quantity = "oxygen"
condition = "time-to-limit"
NONSENSE
[room.annexe.alarm.average]
quantity = "oxygen"
condition = "time-average"
NONSENSE
[room.annexe.alarm.spread]
quantity = "oxygen"
condition = "disagreement"
NONSENSE
[room.annexe.alarm.deviation]
quantity = "oxygen"
condition = "deviation"
NONSENSE
[room.annexe.alarm.door]
quantity = "door"
NONSENSE
[output.relay]
kind = "alarm-relay"
room = "annexe"
NONSENSE
[output.relay.feedback]
NONSENSE
[output.heartbeat]
kind = "heartbeat"
NONSENSE
[output.horn]
kind = "sounder"
register = 1
NONSENSE
[output.beacon]
kind = "beacon"
NONSENSE
[output.scaled]
kind = "reading"
NONSENSE
[output.float]
kind = "reading"
format = "float32"
NONSENSE
[output.number]
kind = "alarm-state"
NONSENSE
[output.lock]
kind = "entry-lock"
NONSENSE
[output.purge]
kind = "actuator"
room = "annexe"
duty = "nitrogen-purge"
NONSENSE
[output.valve]
kind = "actuator"
room = "annexe"
duty = "heating"
register = 7
NONSENSE
[room.annexe.loop.switched]
holds = "oxygen"
output = "purge"
NONSENSE
[room.annexe.loop.controlled]
holds = "temperature"
output = "valve"
NONSENSE
[room.annexe.loop.pulsed]
holds = "temperature"
output = "purge"
method = "time-proportioned"
NONSENSE
[room.annexe.loop.by-day]
holds = "temperature"
output = "valve"
[room.annexe.loop.by-day.program]
NONSENSE
[[room.annexe.loop.by-day.program.steps]]
at = "sunrise"
NONSENSE
[room.annexe.loop.elapsed]
holds = "temperature"
output = "valve"
[room.annexe.loop.elapsed.program]
kind = "elapsed"
NONSENSE
[[room.annexe.loop.elapsed.program.steps]]
NONSENSE
[notify]
NONSENSE
[notify.working_hours]
NONSENSE
[route.mail]
kind = "e-mail"
NONSENSE
[route.hook]
kind = "webhook"
NONSENSE
[route.log]
kind = "syslog"
NONSENSE
[route.files]
kind = "cap-files"
NONSENSE
[route.broker]
kind = "mqtt"
NONSENSE
[contact.okafor]
NONSENSE
[contact.okafor.quiet_hours]
NONSENSE
[rota.nights]
NONSENSE
[[rota.nights.weekly]]
NONSENSE
[[rota.nights.dates]]
NONSENSE
[escalation.critical]
NONSENSE
[[escalation.critical.steps]]
NONSENSE
[watcher]
NONSENSE
)";

constexpr std::string_view whole_profile = R"(NONSENSE
[point.temperature]
unit = "°C"
NONSENSE
[point.door]
NONSENSE
[point.occupancy]
NONSENSE
[point.lights]
NONSENSE
[point.air-flow]
NONSENSE
[point.relief-valve]
NONSENSE
[[status]]
table = "input"
NONSENSE
[read]
NONSENSE
)";

/// Keys that the loader knows only to say why they do not belong there.
const Keys refused{"password", "secret"};

std::string contents(const fs::path& file) {
  std::ifstream in{file};
  std::ostringstream out;
  out << in.rdbuf();
  return out.str();
}

std::string replaced(std::string text, std::string_view from, std::string_view to) {
  for (auto at = text.find(from); at != text.npos; at = text.find(from, at + to.size()))
    text.replace(at, from.size(), to);
  return text;
}

/// "room.annexe.sensor.cell.cell.reference" as the page heads it: names in capitals, no index.
std::string heading_of(std::string path) {
  path = std::regex_replace(path, std::regex{R"(\[\d+\])"}, "");
  for (const auto* named : {"bus", "room", "output", "route", "contact", "rota"})
    path = std::regex_replace(path, std::regex{std::string{"^("} + named + R"()\.[^.]+)"}, "$1.NAME");
  path = std::regex_replace(path, std::regex{R"(\.(sensor|alarm|loop)\.[^.]+)"}, ".$1.NAME");
  path = std::regex_replace(path, std::regex{R"(^escalation\.[^.]+)"}, "escalation.PRIORITY");
  return std::regex_replace(path, std::regex{R"(^point\.[^.]+)"}, "point.MEASURAND");
}

/// What the loader says of a nonsense key, table by table: the keys that it knows there.
void take_known(const std::vector<config::Problem>& problems, std::map<std::string, Keys>& known) {
  const std::regex quoted{R"RE("([^"]+)")RE"};
  for (const auto& problem : problems) {
    constexpr std::string_view start = "unknown key; known here: ";
    if (!problem.key.ends_with(nonsense) || !problem.message.starts_with(start)) continue;
    const auto dot = problem.key.rfind('.');
    auto& keys = known[heading_of(dot == std::string::npos ? "" : problem.key.substr(0, dot))];
    for (std::sregex_iterator it{problem.message.begin(), problem.message.end(), quoted}, end; it != end; ++it)
      if (!refused.contains((*it)[1].str())) keys.insert((*it)[1].str());
  }
}

const std::map<std::string, Keys>& known_keys() {
  static const auto known = [] {
    std::map<std::string, Keys> out;
    const auto line = std::string{nonsense} + " = 1";
    const auto loaded =
        config::parse(replaced(std::string{everything}, "NONSENSE", line), "site.toml", config_test::shipped());
    if (!loaded) take_known(loaded.error(), out);
    config::Problems problems{"profile.toml"};
    static_cast<void>(
        config::parse_profile("profile", replaced(std::string{whole_profile}, "NONSENSE", line), problems));
    std::map<std::string, Keys> of_profile;
    take_known(problems.sorted(), of_profile);
    out["profile"] = of_profile[""]; // the top of the other file
    of_profile.erase("");
    out.merge(of_profile);
    return out;
  }();
  return known;
}

/// The page without roff's escapes.
std::string page_text() {
  auto text = contents(fs::path{OXHERD_SOURCE_DIR} / "man" / "oxherd.toml.5");
  for (const auto& [from, to] :
       {std::pair{"\\-", "-"}, {"\\(de", "°"}, {"\\(aq", "'"}, {"\\(+-", "±"}, {"\\(S2", "²"}, {"\\(ti", "~"}})
    text = replaced(text, from, to);
  return text;
}

/// Heading -> key -> all that is said of it. The head of the register maps is "profile".
using Page = std::map<std::string, std::map<std::string, std::string>>;
Page described() {
  Page page;
  std::string heading;
  std::vector<std::string> keys;
  std::istringstream in{page_text()};
  const std::regex bold{R"(\\fB([a-z0-9_]+)\\fR)"};
  for (std::string line; std::getline(in, line);) {
    if (line.starts_with(".SS ")) heading = std::regex_replace(line.substr(4), std::regex{R"(\[|\])"}, "");
    if (line == ".SH REGISTER MAPS") heading = "profile";
    if (line.starts_with('.')) keys.clear();
    if (line.starts_with("\\fB")) {
      for (std::sregex_iterator it{line.begin(), line.end(), bold}, end; it != end; ++it)
        keys.push_back((*it)[1].str());
      for (const auto& key : keys) EXPECT_FALSE(page[heading].contains(key)) << heading << ' ' << key << " twice";
    }
    for (const auto& key : keys) page[heading][key] += line + ' ';
  }
  return page;
}

bool has_word(const std::string& text, const std::string& word) {
  return std::regex_search(text, std::regex{"(^|[^a-z0-9_])" + word + "($|[^a-z0-9_])"});
}

/// Tables that the page describes in the entry of their key instead of under a heading.
bool is_described_inline(const Page& page, const std::string& heading, std::string& above, std::string& key) {
  const auto dot = heading.rfind('.');
  if (page.contains(heading) || dot == std::string::npos) return false;
  above = heading.substr(0, dot);
  key = heading.substr(dot + 1);
  return true;
}

TEST(ThePageOfTheSettings, DescribesEveryKeyThatTheLoaderKnows) {
  const auto page = described();
  const Keys tables{"site",   "mqtt",  "store",   "http", "bus",        "room",   "output",
                    "notify", "route", "contact", "rota", "escalation", "watcher"};
  EXPECT_EQ(known_keys().at(""), tables);
  for (const auto& [heading, keys] : known_keys()) {
    if (heading.empty()) continue;
    std::string above, entry;
    const bool is_inline = is_described_inline(page, heading, above, entry);
    for (const auto& key : keys) {
      const auto inner = heading == "profile" ? key : heading + '.' + key;
      const bool is_table =
          page.contains(inner) || page.contains(inner + ".NAME") || page.contains(inner + ".MEASURAND");
      if (is_table) continue;
      if (!is_inline) {
        EXPECT_TRUE(page.contains(heading) && page.at(heading).contains(key)) << '[' << heading << "] " << key;
        continue;
      }
      ASSERT_TRUE(page.contains(above) && page.at(above).contains(entry)) << heading;
      const auto& text = page.at(above).at(entry);
      const bool as_above = text.find("any of the keys above") != std::string::npos && page.at(above).contains(key);
      const bool as_measurand = text.find("MEASURAND") != std::string::npos;
      EXPECT_TRUE(as_above || as_measurand || has_word(text, key)) << '[' << heading << "] " << key;
    }
  }
}

TEST(ThePageOfTheSettings, DescribesNoKeyThatIsNotThere) {
  for (const auto& [heading, entries] : described()) {
    ASSERT_TRUE(known_keys().contains(heading)) << heading;
    for (const auto& [key, text] : entries)
      EXPECT_TRUE(known_keys().at(heading).contains(key)) << '[' << heading << "] " << key;
  }
}

/// Every literal that the loader asks a table for.
TEST(TheSampleOfThePage, HasEveryKeyOfTheSource) {
  Keys all;
  for (const auto& [heading, keys] : known_keys()) all.insert(keys.begin(), keys.end());
  const std::regex asked{
      R"RE(\b(?:text|texts|quantity|quantities|duration|number|numbers|integer|boolean|choice|word|table|tables|node|has|require|read_vote|hours)\("([a-z0-9_]+)")RE"};
  const std::regex asked_second{
      R"RE(\b(?:read_days|read_size|read_address|read_date|find_bus|read_time_of_day)\(\w+, "([a-z0-9_]+)")RE"};
  std::size_t found = 0;
  for (const auto& file : fs::directory_iterator{fs::path{OXHERD_SOURCE_DIR} / "config"}) {
    if (file.path().extension() != ".cpp") continue;
    const auto source = contents(file.path());
    for (const auto& pattern : {asked, asked_second})
      for (std::sregex_iterator it{source.begin(), source.end(), pattern}, end; it != end; ++it, ++found)
        EXPECT_TRUE(all.contains((*it)[1].str()) || refused.contains((*it)[1].str()))
            << file.path() << ' ' << (*it)[1].str();
  }
  EXPECT_GT(found, 200U) << "the patterns no longer fit the source";
}

/// Spans as the loader's refusals word them.
TEST(ThePageOfTheSettings, StatesTheSpansThatTheLoaderHolds) {
  auto page = std::regex_replace(page_text(), std::regex{R"(\\fI|\\fR|\\fB)"}, "");
  page = std::regex_replace(page, std::regex{R"(\s+)"}, " ");
  const std::regex rule{R"RE(Dimension::\w+,[^;{}]*"((?:[^"\\]|\\.)+)"\})RE"};
  std::size_t found = 0;
  for (const auto& file : fs::directory_iterator{fs::path{OXHERD_SOURCE_DIR} / "config"}) {
    if (file.path().extension() != ".cpp" && file.path().extension() != ".hpp") continue;
    auto source = contents(file.path());
    source = source.substr(0, source.find("SignalRules as_fraction")); // of recipes, not of settings
    for (std::sregex_iterator it{source.begin(), source.end(), rule}, end; it != end; ++it) {
      auto span = replaced((*it)[1].str(), "\\\"", "\"");
      if (span.find(" to ") == std::string::npos) continue;
      ++found;
      span = span.substr(0, span.find(" ("));
      EXPECT_NE(page.find(span), std::string::npos) << file.path() << ": " << span;
    }
  }
  EXPECT_GT(found, 40U) << "the pattern no longer fits the source";
}

} // namespace oxherd::manual_test
