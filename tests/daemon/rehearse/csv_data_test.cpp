// Tables as people and the program's own commands write them.
#include "tests/daemon/rehearse/rehearsed_room.hpp"

namespace oxherd::daemon::rehearse_csv_test {

using namespace rehearse_test;
using rehearse::CsvData;
using rehearse::CsvWanted;
using rehearse::SamplesAt;

/// Two rooms, of which the first has two sensors that the rules know, and the second none.
const std::vector<config::Room>& rooms() {
  static const std::vector<config::Room> all = [] {
    config::Room annexe, store;
    annexe.name = "annexe";
    store.name = "store";
    for (const char* name : {"cell-a", "cell-b"}) {
      config::Sensor sensor;
      sensor.name = name;
      sensor.points = {{config::Measurand::oxygen, 0.0}};
      sensor.cell.emplace();
      annexe.sensors.push_back(sensor);
    }
    annexe.oxygen_vote = alarms::Scheme::one_of_two;
    return std::vector{annexe, store};
  }();
  return all;
}

CsvWanted wanted(std::optional<std::string> room = {}) { return {rooms(), std::move(room), {}, {}, {}}; }

struct Read {
  std::vector<SamplesAt> rows;
  rehearse::DataNotes notes;
  std::vector<rehearse::DataChannel> channels;
};

Read read_all(const std::string& text, const CsvWanted& what) {
  const auto data = data_of(text, what);
  Read read;
  SamplesAt at;
  while (data->next(at).value()) read.rows.push_back(at);
  read.notes = data->notes();
  read.channels = data->channels();
  return read;
}

std::string refusal(const std::string& text, const CsvWanted& what) {
  const auto data = CsvData::read(std::make_unique<logfile_test::TextSource>(text), "data.csv", what);
  return data ? "accepted" : data.error().what;
}

TEST(CsvData, TakesColumnsNamedByRoomAndSensorWithTheirUncertaintyAndQuality) {
  const auto read =
      read_all("time,annexe/cell-b [%],u annexe/cell-b [%],annexe/cell-a [fraction],quality annexe/cell-a\n"
               "2026-03-02T06:00:00Z,20.5,0.1,0.207,good\n"
               "2026-03-02T07:00:01+01:00,20.4,,0.206,uncertain\n",
               wanted());
  ASSERT_EQ(read.channels.size(), 2U);
  EXPECT_EQ(read.channels[0].sensor, "cell-b");
  EXPECT_EQ(read.channels[0].every, 1s);
  ASSERT_EQ(read.rows.size(), 2U);
  EXPECT_EQ(read.rows[1].at, morning + 1s) << "another offset, the same clock";
  EXPECT_EQ(read.rows[0].samples[0].value, 0.205);
  EXPECT_EQ(read.rows[0].samples[0].u, 0.001);
  EXPECT_EQ(read.rows[0].samples[1].value, 0.207);
  EXPECT_EQ(read.rows[0].samples[1].status, alarms::Status::ok);
  EXPECT_EQ(read.rows[1].samples[1].status, alarms::Status::out_of_specification);
  EXPECT_FALSE(read.rows[1].samples[0].value) << "a value whose uncertainty is lost can be held against no limit";
}

// Whatever a column should say beside the value and does not: taken for nothing, it would be in somebody's favour.
TEST(CsvData, TakesAValueForBadWhenAColumnBesideItSaysNothing) {
  const auto read = read_all("time,oxygen [%],u oxygen [%],po2 [kPa],u po2 [kPa],quality\n"
                             "2026-03-02T06:00:00Z,20.5,0.1,20.1,0.2,good\n"
                             "2026-03-02T06:00:01Z,20.5,,20.1,0.2,good\n"
                             "2026-03-02T06:00:02Z,20.5,0.1,,0.2,good\n"
                             "2026-03-02T06:00:03Z,20.5,0.1,20.1,NaN,good\n"
                             "2026-03-02T06:00:04Z,20.5,0.1,20.1,-0.2,good\n"
                             "2026-03-02T06:00:05Z,20.5,0.1,20.1,0.2,\n"
                             "2026-03-02T06:00:06Z,,0.1,20.1,0.2,good\n",
                             wanted("store"));
  ASSERT_EQ(read.rows.size(), 7U);
  const auto sample = [&](std::size_t row) { return read.rows[row].samples.front(); };
  EXPECT_EQ(sample(0).value, 0.205);
  EXPECT_EQ(sample(0).po2_Pa, 20100.0);
  EXPECT_EQ(sample(0).u_po2_Pa, 200.0);
  for (const std::size_t row : {1U, 2U, 3U, 4U, 6U}) EXPECT_FALSE(sample(row).value) << row;
  EXPECT_EQ(sample(1).reason, "no \"u oxygen [%]\" recorded");
  EXPECT_EQ(sample(2).reason, "no \"po2 [kPa]\" recorded");
  EXPECT_EQ(sample(3).reason, "no \"u po2 [kPa]\" recorded");
  EXPECT_EQ(sample(4).reason, "recorded value beyond what any room has");
  EXPECT_EQ(sample(5).status, alarms::Status::failure) << "no quality is none that is good";
  EXPECT_EQ(sample(6).reason, "no value recorded");
  EXPECT_EQ(read.notes.bad_samples, 6U);
}

TEST(CsvData, KnowsOfEachChannelWhetherItComesWithAPartialPressure) {
  const auto with = read_all("time,oxygen [%],po2 [kPa]\n2026-03-02T06:00:00Z,20.5,20.1\n", wanted("store"));
  ASSERT_EQ(with.channels.size(), 1U);
  EXPECT_TRUE(with.channels[0].has_po2);
  const auto without = read_all("time,annexe/cell-a [%],annexe/cell-b [%]\n2026-03-02T06:00:00Z,20.5,20.4\n"
                                "2026-03-02T06:00:01Z,20.5,20.4\n",
                                wanted());
  ASSERT_EQ(without.channels.size(), 2U);
  EXPECT_FALSE(without.channels[0].has_po2 || without.channels[1].has_po2);
}

// The header of `oxherd history --csv`, with an ambient probe between the cells.
TEST(CsvData, TakesTheTableOfRecordedReadings) {
  const auto read =
      read_all("at,room,sensor,quality,status,dry_fraction,u_dry_fraction,wet_fraction,po2_kpa,raw_mv,temperature_c,"
               "humidity_percent,pressure_kpa,co2_fraction,derivation,reasons\r\n"
               "2026-03-02T06:00:00.100Z,annexe,cell-a,good,ok,0.2081,0.0007,0.2049,20.1,11.9,,,,,,\r\n"
               "2026-03-02T06:00:00.200Z,annexe,air,good,ok,,,,,,21,45,99.8,,,\r\n"
               "2026-03-02T06:00:00.150Z,annexe,cell-b,bad,failure,,,,,,,,,,,\"a fault, in words\"\r\n"
               "2026-03-02T06:00:00.300Z,elsewhere,cell,good,ok,0.2,0.0007,,,,,,,,,\r\n",
               wanted());
  ASSERT_EQ(read.channels.size(), 2U);
  ASSERT_EQ(read.rows.size(), 2U);
  EXPECT_EQ(read.rows[0].samples[0].value, 0.2081);
  EXPECT_EQ(read.rows[0].samples[0].u, 0.0007);
  EXPECT_EQ(read.rows[0].samples[0].po2_Pa, 20100.0);
  EXPECT_EQ(read.rows[1].samples[0].channel, 1U);
  EXPECT_EQ(read.rows[1].samples[0].status, alarms::Status::failure);
  EXPECT_EQ(read.rows[1].samples[0].reason, "a fault, in words");
  EXPECT_EQ(read.notes.bad_samples, 1U);
  EXPECT_EQ(read.notes.said, std::vector<std::string>{"not used: elsewhere/cell"});
}

// What `oxherd correct` adds to a logger's own columns.
TEST(CsvData, TakesTheTableOfCorrectedRows) {
  const auto read = read_all("Date;Time;O2 cell;Air RH;oxygen_percent;u_oxygen_percent;oxygen_quality;oxygen_remark\n"
                             ";;mV;%;%;%;;\n"
                             "02.03.2026;06:00:00;10,1;50;20,91;0,07;good;\n"
                             "02.03.2026;06:01:00;;50;;;bad;signal missing\n",
                             wanted("store"));
  ASSERT_EQ(read.channels.size(), 1U);
  EXPECT_EQ(read.channels[0].room, "store");
  EXPECT_EQ(read.channels[0].every, 1min);
  ASSERT_EQ(read.rows.size(), 2U);
  EXPECT_EQ(read.rows[0].at, morning);
  EXPECT_NEAR(*read.rows[0].samples[0].value, 0.2091, 1e-15);
  EXPECT_FALSE(read.rows[1].samples[0].value);
  EXPECT_EQ(read.rows[1].samples[0].reason, "signal missing");
  EXPECT_NE(std::find(read.notes.said.begin(), read.notes.said.end(),
                      "its times state no offset and were taken as UTC; --zone says otherwise"),
            read.notes.said.end());
}

TEST(CsvData, LeavesOutRowsThatGoBackInTimeAndSaysWhichWasTheFirst) {
  const auto read = read_all("time,oxygen [%]\n2026-03-02T06:00:00Z,20\n2026-03-02T06:00:02Z,20.1\n"
                             "2026-03-02T06:00:01Z,20.2\n2026-03-02T06:00:02Z,20.3\n",
                             wanted("store"));
  ASSERT_EQ(read.rows.size(), 3U);
  EXPECT_EQ(read.rows[2].samples[0].value, 0.203) << "the same time twice is not back in time";
  EXPECT_EQ(read.notes.backwards.count, 1U);
  EXPECT_EQ(read.notes.backwards.first, "line 4: 2026-03-02T06:00:01.000Z after 2026-03-02T06:00:02.000Z");
}

TEST(CsvData, CountsValuesThatAreNoNumbersOrBeyondAnyRoomAsBadSamples) {
  const auto read = read_all("time,oxygen [%]\n2026-03-02T06:00:00Z,20\n2026-03-02T06:00:01Z,twenty\n"
                             "2026-03-02T06:00:02Z,2090\n2026-03-02T06:00:03Z,--\n2026-03-02T06:00:04Z\n",
                             wanted("store"));
  ASSERT_EQ(read.rows.size(), 4U);
  EXPECT_EQ(read.notes.bad_samples, 3U);
  EXPECT_EQ(read.notes.not_numbers.count, 2U);
  EXPECT_EQ(read.notes.not_numbers.first, "line 3: \"twenty\" in \"oxygen [%]\" is no number");
  EXPECT_EQ(read.notes.unreadable.count, 1U);
  EXPECT_EQ(read.notes.unreadable.first, "line 6: 1 fields instead of 2");
}

TEST(CsvData, RefusesATableInWordsThatSayWhatToWrite) {
  const std::string row = "2026-03-02T06:00:00Z,20.5\n2026-03-02T06:00:01Z,20.5\n";
  EXPECT_EQ(refusal("time,oxygen\n" + row, wanted("store")),
            "data.csv: the name \"oxygen\" has no unit; write it behind, such as \"oxygen [%]\"");
  EXPECT_EQ(refusal("time,sensor,oxygen [%],po2\n2026-03-02T06:00:00Z,cell-a,20.5,20.1\n", wanted("annexe")),
            "data.csv: the name \"po2\" has no unit; write it behind, such as \"po2 [kPa]\"");
  EXPECT_EQ(refusal("time,oxygen [%]\n" + row, wanted()),
            "data.csv: the rules have several rooms, and \"oxygen [%]\" does not say which it is of: name one with "
            "--room, or call the column \"ROOM/SENSOR [%]\"");
  EXPECT_EQ(refusal(row, wanted("store")), "data.csv: has no header; its first line must name the columns, such as "
                                           "\"time,oxygen [%],u oxygen [%]\"");
  EXPECT_EQ(refusal("time,temperature [°C]\n" + row, wanted("store")),
            "data.csv: no column holds oxygen or carbon dioxide that the rules know; name them \"oxygen [%]\", "
            "\"carbon-dioxide [ppm]\" or \"ROOM/SENSOR [%]\". The columns are \"time\", \"temperature [°C]\", and only "
            "room store was asked for");
  EXPECT_NE(
      refusal("row,oxygen [%]\n1,20.5\n2,20.5\n", wanted("store")).find("no column was found that holds the time"),
      std::string::npos);
  EXPECT_NE(
      refusal("time,oxygen [%],o2 [%]\n2026-03-02T06:00:00Z,20.5,20\n", wanted("store")).find("are the same value"),
      std::string::npos);
  EXPECT_NE(
      refusal("time,oxygen [%]\n02/03/2026 06:00:00,20.5\n", wanted("store")).find("say which with --time-format"),
      std::string::npos);
}

TEST(CsvData, ReadsTimesOfAStatedFormatAndZone) {
  CsvWanted what = wanted("store");
  what.time_format = "%m/%d/%Y %H:%M:%S";
  what.zone = "+01:00";
  const auto read = read_all("time,oxygen [%]\n03/02/2026 07:00:00,20.5\n", what);
  ASSERT_EQ(read.rows.size(), 1U);
  EXPECT_EQ(read.rows[0].at, morning);
  what.zone = "Larkfield";
  EXPECT_NE(refusal("time,oxygen [%]\n03/02/2026 07:00:00,20.5\n", what).find("--zone: "), std::string::npos);
}

} // namespace oxherd::daemon::rehearse_csv_test
