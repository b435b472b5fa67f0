#include <fstream>

#include <gtest/gtest.h>

#include "config/host_port.hpp"
#include "config/nearest.hpp"
#include "config/time_stamp.hpp"
#include "tests/config/sample.hpp"

namespace oxherd::document_test {

using config_test::said_about;
using config_test::sound;
using config_test::with;
namespace fs = std::filesystem;
using Lines = std::vector<std::string>;

class File : public ::testing::Test {
protected:
  void SetUp() override {
    std::string pattern = (fs::temp_directory_path() / "oxherd-config-XXXXXX").string();
    ASSERT_NE(mkdtemp(pattern.data()), nullptr);
    directory_ = pattern;
  }
  void TearDown() override { fs::remove_all(directory_); }
  fs::path write(const std::string& name, std::string_view text) {
    const auto file = directory_ / name;
    fs::create_directories(file.parent_path());
    std::ofstream{file, std::ios::binary} << text;
    return file;
  }
  /// What load says, with the directory cut off.
  std::vector<std::string> said(const fs::path& file) {
    const auto loaded = config::load(file, config_test::shipped());
    std::vector<std::string> lines;
    for (const auto& problem : loaded ? loaded->warnings : loaded.error())
      lines.push_back(to_string(problem).substr(directory_.string().size() + 1));
    return lines;
  }
  fs::path directory_;
};

TEST_F(File, IsReadWholeAndNamedInTheSettings) {
  const auto file = write("site.toml", sound);
  const auto loaded = config::load(file, config_test::shipped());
  ASSERT_TRUE(loaded);
  EXPECT_EQ(loaded->settings.file, file.string());
}

TEST_F(File, ThatCannotBeReadIsSaidPlainly) {
  EXPECT_EQ(said(directory_ / "none.toml"), (Lines{"none.toml: there is no such file"}));
  fs::create_directory(directory_ / "folder.toml");
  EXPECT_EQ(said(directory_ / "folder.toml"), (Lines{"folder.toml: is a directory; name the file itself"}));
  EXPECT_EQ(said(write("empty.toml", "")), (Lines{"empty.toml: is empty; it may have been written only half"}));
  EXPECT_EQ(said(write("large.toml", std::string(4 * 1024 * 1024 + 1, '#'))),
            (Lines{"large.toml: larger than 4 MiB; that is no configuration"}));
  fs::create_symlink("/dev/null", directory_ / "device.toml");
  EXPECT_EQ(said(directory_ / "device.toml"), (Lines{"device.toml: is not a regular file"}));
}

TEST_F(File, CutOffInsideALineIsNeverTakenInSilence) {
  // A cut at the end of a line can leave a smaller file that is whole; one inside a line shows.
  for (std::size_t length = 1; length < sound.size(); length += 5) {
    if (sound[length - 1] == '\n') continue;
    EXPECT_NE(said(write("cut.toml", sound.substr(0, length))), Lines{}) << length;
  }
}

TEST_F(File, WithoutALastLineBreakIsTakenWithADoubt) {
  EXPECT_EQ(said(write("site.toml", sound.substr(0, sound.size() - 1))),
            (Lines{"site.toml: warning: the last line has no line break; the file may have been written only half"}));
}

TEST_F(File, MayStartWithAByteOrderMark) {
  EXPECT_EQ(said(write("site.toml", "\xEF\xBB\xBF" + std::string{sound})), Lines{});
}

TEST_F(File, MayHaveProfilesOfItsOwnBesideIt) {
  write("profiles/own-cell.toml", "description = \"x\"\n[point.oxygen]\ntable = \"holding\"\naddress = 7\n"
                                  "type = \"int16\"\nscale = 0.01\nunit = \"mV\"\n");
  const auto file = write("site.toml", with("\"millivolts-float32\"", "\"own-cell\""));
  EXPECT_EQ(said(file), Lines{});
  const auto loaded = config::load(file, config_test::shipped());
  ASSERT_TRUE(loaded);
  EXPECT_EQ(loaded->settings.rooms.at(0).sensors.at(0).map.points.at(0).address, 7);
}

TEST_F(File, LetsAProfileSayHowItsDeviceIsRead) {
  write("profiles/own-cell.toml", "description = \"x\"\n[point.oxygen]\ntable = \"holding\"\naddress = 7\n"
                                  "type = \"int16\"\nunit = \"mV\"\n[read]\ngap_max = 1\nlength_max = 9\n");
  const auto own = with("\"millivolts-float32\"", "\"own-cell\"", with("unit = 11", "unit = 11\nlength_max = 5"));
  const auto loaded = config::load(write("site.toml", own), config_test::shipped());
  ASSERT_TRUE(loaded);
  EXPECT_EQ(loaded->settings.rooms.at(0).sensors.at(0).limits.gap_max, 1);
  EXPECT_EQ(loaded->settings.rooms.at(0).sensors.at(0).limits.length_max, 5); // the sensor's own word wins
  EXPECT_EQ(loaded->settings.rooms.at(0).sensors.at(1).limits.gap_max, 8);
}

TEST_F(File, ReportsTheFaultsOfAProfileWithTheProfilesOwnFile) {
  write("profiles/own-cell.toml", "description = \"x\"\n[point.oxygen]\ntable = \"holding\"\nadress = 7\n"
                                  "type = \"int16\"\nunit = \"mV\"\n");
  EXPECT_EQ(
      said(write("site.toml", with("\"millivolts-float32\"", "\"own-cell\""))),
      (Lines{
          R"(site.toml:20:11: room.annexe.sensor.cell-a.profile: profile "own-cell" has errors of its own, listed with its file)",
          "profiles/own-cell.toml:2:8: point.oxygen.address: missing; write for example address = 0",
          R"(profiles/own-cell.toml:4:1: point.oxygen.adress: unknown key; did you mean "address"?)"}));
}

TEST(Text, ThatIsNotTomlIsRefusedWhereItStopsBeingToml) {
  EXPECT_EQ(said_about(with("[site]", "[site")).at(0).substr(0, 33), "site.toml:1:6: this is not TOML: ");
  EXPECT_EQ(said_about(with("\"larkfield\"", "\"larkfield")).at(0).substr(0, 13), "site.toml:2:1");
  EXPECT_EQ(said_about(with("\"larkfield\"", "\"lark\xff\"")).size(), 1U);
  EXPECT_EQ(said_about(with("name =", "elevation = \"1 m\"\nname =")).at(0).substr(0, 12), "site.toml:4:");
}

TEST(Text, WithTooManyDotsInALineIsRefusedBeforeItIsParsed) {
  std::string key = "a";
  for (int i = 0; i < 50000; ++i) key += ".a";
  EXPECT_EQ(said_about(std::string{sound} + key + " = 1\n"), (Lines{"site.toml:40:1: more than 64 dots in one line"}));
  EXPECT_EQ(said_about(std::string{sound} + "# " + std::string(100, '.') + "\n"), Lines{}); // a ruler in a comment
}

TEST(Text, NestedTooDeeplyIsRefused) {
  std::string text{sound};
  text += "x = " + std::string(100, '[') + std::string(100, ']') + "\n";
  const auto said = said_about(text);
  ASSERT_EQ(said.size(), 2U);
  EXPECT_EQ(
      said[0],
      R"(site.toml:40:1: output.beacon.x: unknown key; known here: "bus", "kind", "unit", "room", "coil", "every", "feedback", "prove_every" or "confirm_within")");
  EXPECT_EQ(said[1], "site.toml:40:35: nested deeper than 32 tables");
}

TEST(Message, NeverForgesASecondLine) {
  EXPECT_EQ(said_about(std::string{sound} + "\"a\\nb\" = 1\n").at(0).substr(0, 50),
            "site.toml:40:1: output.beacon.a?b: unknown key; kn");
}

TEST(EditDistance, CountsInsertsDeletesReplacementsAndSwaps) {
  EXPECT_EQ(config::edit_distance("deadband", "deadband"), 0);
  EXPECT_EQ(config::edit_distance("deadbnad", "deadband"), 1);
  EXPECT_EQ(config::edit_distance("deadban", "deadband"), 1);
  EXPECT_EQ(config::edit_distance("dedabnad", "deadband"), 2);
  EXPECT_EQ(config::edit_distance("", "unit"), 4);
  // The textbook pair that tells the optimal string alignment form (3) from the unrestricted one (2).
  EXPECT_EQ(config::edit_distance("ca", "abc"), 3);
}

TEST(Nearest, SuggestsOnlyWhatIsReallyNear) {
  const Lines known{"on_delay", "off_delay", "deadband"};
  EXPECT_EQ(config::nearest("off_dealy", known), "off_delay");
  EXPECT_EQ(config::nearest("colour", known), std::nullopt);
  EXPECT_EQ(config::nearest("x", {"y"}), "y");
  EXPECT_EQ(config::listed_nearest_first("off_dealy", known), R"("off_delay", "on_delay" or "deadband")");
}

TEST(HostAndPort, TakesNamesNumbersAndBracketedVersionSix) {
  struct Row {
    std::string_view text, host;
    int port;
  };
  for (const auto& row : {Row{"10.0.0.1:1502", "10.0.0.1", 1502}, Row{"gateway-1.example", "gateway-1.example", 502},
                          Row{"[2001:db8::1]:503", "2001:db8::1", 503}, Row{"[::1]", "::1", 502}}) {
    SCOPED_TRACE(row.text);
    const auto address = config::host_and_port(row.text, 502);
    ASSERT_TRUE(address);
    EXPECT_EQ(address->host, row.host);
    EXPECT_EQ(address->port, row.port);
  }
  for (const auto* bad : {"", ":502", "host:", "host:0", "host:65536", "host:5x", "ho st:5", "::1", "[::1", "[::1]x",
                          "[name]:5", "tcp://host:5"})
    EXPECT_FALSE(config::host_and_port(bad, 502)) << bad;
}

TEST(Instant, IsReadAsRfc3339WritesIt) {
  using namespace std::chrono;
  // The examples of RFC 3339, section 5.8, that name no leap second.
  EXPECT_EQ(config::instant_of("1985-04-12T23:20:50.52Z"), sys_days{1985y / April / 12} + 23h + 20min + 50520ms);
  EXPECT_EQ(config::instant_of("1996-12-19T16:39:57-08:00"), sys_days{1996y / December / 20} + 39min + 57s);
  EXPECT_EQ(config::instant_of("1937-01-01T12:00:27.87+00:20"), sys_days{1937y / January / 1} + 11h + 40min + 27870ms);
  EXPECT_EQ(config::instant_of("2026-05-04 09:30:00.1239z"), sys_days{2026y / May / 4} + 9h + 30min + 123ms);
  for (const auto* bad : {"", "2026-05-04", "2026-05-04T09:30:00", "2026-02-29T00:00:00Z", "2026-05-04T24:00:00Z",
                          "2026-05-04T09:30:60Z", "2026-05-04T09:30:00+24:00", "2026-05-04T09:30:00.Z",
                          "2026-05-04T09:30:00Zx", "26-05-04T09:30:00Z", "2026-05-04T09:30:00+0200"})
    EXPECT_EQ(config::instant_of(bad), std::nullopt) << bad;
}

} // namespace oxherd::document_test
