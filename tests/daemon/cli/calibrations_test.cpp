#include <nlohmann/json.hpp>

#include "daemon/cli/calibrations_text.hpp"
#include "daemon/cli/sensitivity_plot.hpp"
#include "tests/daemon/calibration/records.hpp"
#include "tests/daemon/cli/cli_fixture.hpp"
#include "tests/daemon/store/store_fixture.hpp"

namespace oxherd::daemon::calibrations_test {

using namespace example_records;
using cli_test::FakeDaemon;
using cli_test::run_words;
using cli_test::TemporaryDirectory;
using nlohmann::json;
using std::chrono::days;

const WallTime today = day(2026, 3, 1);

CellInUse cell_at(std::string sensor, std::string serial) {
  CellInUse in_use{"cryo-annexe", std::move(sensor), {}, {}};
  in_use.cell.serial = std::move(serial);
  return in_use;
}

CalibrationRecord of(CalibrationRecord record, std::string sensor, std::string serial) {
  record.sensor = std::move(sensor);
  record.serial = std::move(serial);
  return record;
}

/// Three cells of the annexe: one in order, one overdue, one without any calibration.
CellsAndRecords annexe() {
  return {{cell_at("cell-a", "LK-0007"), cell_at("cell-b", "LK-0008"), cell_at("cell-c", "LK-0009")},
          {adjustment(1, today - days{10}), of(adjustment(2, today - days{100}), "cell-b", "LK-0008")}};
}

std::string all_text(const CellsAndRecords& known) {
  std::ostringstream out, err;
  return cli::all_cells_text(cli::Console{out, err, false}, cli::views_of(known, today), today);
}

std::string one_text(const CellsAndRecords& known, std::size_t cell = 0) {
  std::ostringstream out, err;
  return cli::one_cell_text(cli::Console{out, err, false}, cli::view_of(known.cells[cell], known.records, today),
                            known.records, today);
}

void expect_in(const std::string& text, std::string_view part) {
  EXPECT_NE(text.find(part), std::string::npos) << part << "\n--- is not in\n" << text;
}

TEST(AllCells, AreShownThoseThatNeedAPersonFirst) {
  const auto text = all_text(annexe());
  const auto a = text.find("cryo-annexe/cell-a"), b = text.find("cryo-annexe/cell-b"),
             c = text.find("cryo-annexe/cell-c");
  EXPECT_LT(c, b) << text;
  EXPECT_LT(b, a) << text;
  expect_in(text, "cryo-annexe/cell-c  LK-0009  NOT CALIBRATED        -                   -");
  expect_in(text, "cryo-annexe/cell-b  LK-0008  maintenance required  2025-11-21 (100 d)");
  expect_in(text, "2025-12-21 OVERDUE 70 d  2026-02-19 OVERDUE 10 d");
  expect_in(text, "cryo-annexe/cell-a  LK-0007  in order              2026-02-19 (10 d)");
  expect_in(text,
            "\ncryo-annexe/cell-b, LK-0008\n  maintenance required: calibration was due on 2026-02-19 (10 d ago)\n");
  expect_in(text, "\n3 cells;");
}

TEST(AllCells, OfNoneSaySo) { EXPECT_EQ(all_text({}), "There is no cell: nothing to calibrate.\n"); }

TEST(AllCells, WhoseCalibrationHasNoDateAreCalledUndated) {
  CellsAndRecords known{{cell_at("cell-a", "LK-0007")}, {}};
  known.cells[0].configured = {*adjustment(1, today).calibration, {}, ""};
  const auto text = all_text(known);
  expect_in(text, "LK-0007  undated  date unknown");
  expect_in(text,
            "\nundated: the calibration stands in the settings file without its date (key \"at\"), so nobody can tell");
}

TEST(AllCells, ThatAreNotToBeLookedAfterAreNeverDue) {
  auto known = annexe();
  known.cells[1].cell.upkeep = {{}, {}, {}, {}};
  expect_in(all_text(known), "cryo-annexe/cell-b  LK-0008  in order        2025-11-21 (100 d)  never       never");
}

std::vector<CalibrationRecord> quarterly_life() {
  std::vector<CalibrationRecord> records;
  for (const double share : {1.0, 0.97, 0.95, 0.91})
    records.push_back(adjustment(static_cast<std::int64_t>(records.size()) + 1,
                                 today - days{300 - 90 * static_cast<int>(records.size())}, 0.0014 * share));
  records.push_back(check(5, today - days{3}, 0.2052));
  records.push_back(withdrawal(6, today - days{2}, 2));
  records.back().author = "M. Okoro";
  return records;
}

TEST(OneCell, ShowsItsWholeLife) {
  const CellsAndRecords known{{cell_at("cell-a", "LK-0007")}, quarterly_life()};
  const auto text = one_text(known);
  expect_in(text, "cryo-annexe/cell-a: cell LK-0007 (concentration), in order\n");
  expect_in(text, "calibration in force  2026-01-30 (30 d), record 4\n");
  expect_in(text, "first used            2025-05-05, 9.9 months ago (permitted: 24)\n");
  expect_in(text, "sensitivity now       91.0 % of its first\n");
  expect_in(text, "%/month, 95 % interval");
  expect_in(text, "next calibration      2026-04-30\n");
  expect_in(text, "2    adjustment  2025-08-03  R. Alder");
  expect_in(text, "WITHDRAWN by 6\n");
  expect_in(text, "20.52 ± 0.16");
  expect_in(text, "6    withdrawal  2026-02-27  M. Okoro");
  expect_in(text, "withdraws 2; the hose was off\n");
}

TEST(OneCell, WithAFailedCheckIsDueAtOnce) {
  auto records = quarterly_life();
  records[4].points[0].as_found = dry(0.2002, 0.0008);
  const auto text = one_text({{cell_at("cell-a", "LK-0007")}, records});
  expect_in(text, "out of specification: the check of 2026-02-26 failed: calibrate the cell\n");
  expect_in(text, "next calibration      2026-02-26 OVERDUE 3 d\n");
}

TEST(OneCell, WithoutAnyRecordSaysSo) {
  const auto text = one_text(annexe(), 2);
  expect_in(text, "LK-0009 (concentration), NOT CALIBRATED\n");
  expect_in(text, "There is no record of this cell.\n");
}

TEST(OneCell, KeepsTheTerminalFromWhatPeopleTyped) {
  auto known = annexe();
  known.records[0].author = "R.\x1b[2J Alder";
  EXPECT_EQ(one_text(known).find('\x1b'), std::string::npos);
}

TEST(SensitivityPlot, PutsTheFirstAtTheTopLeftAndTheLastAtTheRight) {
  const auto plot = cli::sensitivity_plot({{1, today - days{100}, 1.0, 0.0}, {2, today, 0.90, 0.0}});
  EXPECT_EQ(plot, "  sensitivity, % of the first\n"
                  "   100.0 | *\n"
                  "    98.8 |\n"
                  "    97.5 |\n"
                  "    96.2 |\n"
                  "    95.0 |\n"
                  "    93.8 |\n"
                  "    92.5 |\n"
                  "    91.2 |\n"
                  "    90.0 |                                                             *\n"
                  "         +--------------------------------------------------------------\n"
                  "           2025-11-21                                         2026-03-01\n");
}

TEST(SensitivityPlot, IsNotDrawnOfOnePointOrOfOneDay) {
  EXPECT_EQ(cli::sensitivity_plot({{1, today, 1.0, 0.01}}), "");
  EXPECT_EQ(cli::sensitivity_plot({{1, today, 1.0, 0.01}, {2, today, 0.9, 0.01}}), "");
}

// --- the command -----------------------------------------------------------------------------------------------------

std::string answer_of(const CellsAndRecords& known) {
  return R"({"ok":true,"result":)" + calibrations_answer(known.cells, known.records) + "}\n";
}

TEST(CalibrationsAnswer, GivesCellsAndRecordsBackWhole) {
  auto known = annexe();
  known.cells[0].cell.upkeep = {days{14}, {}, days{400}, day(2025, 6, 1)};
  known.cells[1].configured = {*adjustment(1, today).calibration, today - days{5}, "M. Okoro"};
  known.cells[2].configured = {*adjustment(1, today).calibration, {}, ""};
  const auto text = calibrations_answer(known.cells, known.records);
  const auto again = cells_and_records_from(text);
  ASSERT_TRUE(again) << again.error();
  EXPECT_EQ(calibrations_answer(again->cells, again->records), text);
  EXPECT_EQ(again->cells[0].cell.upkeep, known.cells[0].cell.upkeep);
  EXPECT_EQ(again->cells[1].configured->at, today - days{5});
  EXPECT_EQ(again->cells[1].configured->by, "M. Okoro");
  EXPECT_FALSE(again->cells[2].configured->at);
  EXPECT_FALSE(again->cells[0].configured);
  EXPECT_EQ(again->records.size(), 2U);
}

TEST(CalibrationsAnswer, ThatIsNoneIsRefusedAsAWhole) {
  for (const std::string_view text : {"", "[]", "{}", R"({"cells":[],"records":[{"number":1}]})",
                                      R"({"cells":[{"room":"a"}],"records":[]})", R"({"cells":5,"records":[]})"})
    EXPECT_FALSE(cells_and_records_from(text)) << text;
}

TEST(Calibrations, AskTheDaemonAndNameACellBySensorOrSerial) {
  const auto answer = answer_of(annexe());
  FakeDaemon daemon{{answer, answer, answer}};
  const auto all = run_words({"calibrations", "--json", "--state-dir", daemon.dir()});
  EXPECT_EQ(all.code, cli::fine) << all.err;
  EXPECT_EQ(json::parse(daemon.requests().at(0)), (json{{"command", "calibrations"}}));
  const auto cells = json::parse(all.out).at("cells");
  ASSERT_EQ(cells.size(), 3U);
  EXPECT_EQ(cells[0].at("serial"), "LK-0009");
  EXPECT_EQ(cells[0].at("calibrated"), false);
  const auto by_serial = run_words({"calibrations", "LK-0007", "--json", "--state-dir", daemon.dir()});
  const auto by_sensor = run_words({"calibrations", "cryo-annexe/cell-a", "--json", "--state-dir", daemon.dir()});
  const auto one = json::parse(by_serial.out), same = json::parse(by_sensor.out);
  EXPECT_EQ(one.at("cell").at("in_force").at("number"), 1);
  EXPECT_EQ(one.at("records"), same.at("records"));
  EXPECT_EQ(one.at("records").at(0).at("standing"), "stands");
  EXPECT_TRUE(one.at("records").at(0).at("by").is_null());
}

TEST(Calibrations, RefuseACellThatNobodyKnowsAndSuggestTheNearest) {
  FakeDaemon daemon{{answer_of(annexe()), answer_of(annexe())}};
  const auto got = run_words({"calibrations", "LK-007", "--state-dir", daemon.dir()});
  EXPECT_EQ(got.code, cli::failed);
  EXPECT_EQ(got.err, "oxherd calibrations: there is no cell LK-007; did you mean LK-0007?\n");
  EXPECT_EQ(run_words({"calibrations", "bay-3/anything-else", "--state-dir", daemon.dir()}).err,
            "oxherd calibrations: there is no cell bay-3/anything-else; `oxherd calibrations` lists them\n");
  EXPECT_EQ(run_words({"calibrations", "a", "b"}).code, cli::usage);
}

TEST(Calibrations, ShowACellThatWasTakenOut) {
  auto known = annexe();
  known.cells.erase(known.cells.begin());
  known.cells.push_back(cell_at("cell-a", "LK-0012"));
  FakeDaemon daemon{{answer_of(known), answer_of(known)}};
  const auto old = run_words({"calibrations", "LK-0007", "--state-dir", daemon.dir()});
  expect_in(old.out, "cryo-annexe/cell-a: cell LK-0007 (concentration), not in use\n");
  const auto here = run_words({"calibrations", "cryo-annexe/cell-a", "--state-dir", daemon.dir()});
  expect_in(here.out, "LK-0012 (concentration), NOT CALIBRATED\n");
  expect_in(here.out, "Cell LK-0007 was calibrated here too: oxherd calibrations LK-0007\n");
}

/// A state directory with two records, and no daemon.
void leave_records(const std::filesystem::path& dir) {
  const auto store = store_test::open_store(dir);
  ASSERT_TRUE(store);
  ASSERT_TRUE(store->add(adjustment(0, today)));
  auto correction = adjustment(0, today);
  correction.supersedes = 1;
  ASSERT_TRUE(store->add(correction));
}

std::string larkfield() { return std::string{OXHERD_SOURCE_DIR} + "/demo/larkfield.toml"; }

TEST(Calibrations, ReadFilesAndSettingsWhenNoDaemonRuns) {
  const TemporaryDirectory state;
  leave_records(state.path());
  const auto got = run_words({"calibrations", "--json", "--config", larkfield(), "--state-dir", state.path().string()});
  EXPECT_EQ(got.code, cli::fine);
  EXPECT_EQ(got.err,
            "oxherd calibrations: no daemon answers in " + state.path().string() + ": these are the records it left\n");
  EXPECT_EQ(json::parse(got.out).at("cells").size(), 5U);
  const auto without = run_words(
      {"calibrations", "--json", "--config", "/nonexistent/oxherd.toml", "--state-dir", state.path().string()});
  EXPECT_EQ(without.code, cli::fine);
  expect_in(without.err, "no settings could be read from /nonexistent/oxherd.toml");
  EXPECT_EQ(json::parse(without.out).at("cells").size(), 1U);
  const TemporaryDirectory empty;
  EXPECT_EQ(run_words({"calibrations", "--state-dir", empty.path().string()}).code, cli::no_daemon);
}

// --- certificates ----------------------------------------------------------------------------------------------------

/// The settings of Larkfield without the lines that name who issues certificates.
std::string nameless_settings(const TemporaryDirectory& dir) {
  std::ifstream in{larkfield()};
  std::string kept, removed;
  for (std::string line; std::getline(in, line);)
    (line.starts_with("organisation") || line.starts_with("owner") ? removed : kept) += line + '\n';
  EXPECT_EQ(std::ranges::count(removed, '\n'), 2);
  return dir.file("nameless.toml", kept);
}

TEST(Certificate, IsPrintedAndSaysWhatTheSettingsDoNotState) {
  const TemporaryDirectory state;
  leave_records(state.path());
  const auto config = nameless_settings(state);
  const auto got = run_words({"certificate", "2", "--config", config, "--state-dir", state.path().string()});
  EXPECT_EQ(got.code, cli::fine) << got.err;
  EXPECT_TRUE(got.out.starts_with("<!DOCTYPE html>")) << got.out.substr(0, 80);
  expect_in(got.out, "CAL-000002");
  expect_in(got.err, "[site] of " + config + " does not state organisation and owner: neither does the certificate\n");
  const auto none =
      run_words({"certificate", "2", "--config", "/nonexistent/oxherd.toml", "--state-dir", state.path().string()});
  EXPECT_EQ(none.code, cli::fine);
  expect_in(none.err, "no settings could be read from /nonexistent/oxherd.toml (`oxherd check` says why): the "
                      "certificate names no organisation, place and owner\n");
}

TEST(Certificate, NamesTheIssuerOfTheSettings) {
  const TemporaryDirectory state;
  leave_records(state.path());
  const auto got =
      run_words({"certificate", "2", "--json", "--config", larkfield(), "--state-dir", state.path().string()});
  EXPECT_EQ(got.code, cli::fine) << got.err;
  EXPECT_EQ(got.err.find("does not state"), std::string::npos) << got.err;
  const auto issuer = json::parse(got.out).at("issuer");
  EXPECT_EQ(issuer.at("organisation"), "Larkfield Plant Station, gas workshop");
  EXPECT_EQ(issuer.at("place"), "cryo-annexe") << "the room of the sensor, when none is stated";
  EXPECT_EQ(issuer.at("owner"), "Larkfield Plant Station");
}

TEST(Certificate, OfARecordThatNoLongerStandsSaysSo) {
  const TemporaryDirectory state;
  leave_records(state.path());
  const auto got =
      run_words({"certificate", "1", "--json", "--config", larkfield(), "--state-dir", state.path().string()});
  EXPECT_EQ(got.code, cli::fine);
  EXPECT_EQ(json::parse(got.out).at("standing"), "SUPERSEDED by CAL-000002. Do not use.");
  expect_in(got.err, "record 1 no longer stands (see record 2); the certificate says so\n");
}

TEST(Certificate, NeverReplacesAFileUnasked) {
  const TemporaryDirectory state;
  leave_records(state.path());
  const auto page = state.file("certificate.html", "mine");
  const std::vector<std::string> words{"certificate", "2",         "--html",      page,
                                       "--config",    larkfield(), "--state-dir", state.path().string()};
  const auto content = [&] {
    std::ifstream in{page};
    return std::string{std::istreambuf_iterator<char>{in}, {}};
  };
  const auto refused = run_words(words);
  EXPECT_EQ(refused.code, cli::failed);
  expect_in(refused.err, page + ": exists already; --force replaces it\n");
  EXPECT_EQ(content(), "mine");
  auto forced = words;
  forced.emplace_back("--force");
  EXPECT_EQ(run_words(forced).code, cli::fine);
  EXPECT_TRUE(content().starts_with("<!DOCTYPE html>"));
}

TEST(Certificate, RefusesWhatHasNone) {
  const TemporaryDirectory state;
  leave_records(state.path());
  const auto said = [&](std::vector<std::string> words, int code) {
    words.insert(words.begin(), "certificate");
    words.insert(words.end(), {"--config", larkfield(), "--state-dir", state.path().string()});
    const auto got = run_words(words);
    EXPECT_EQ(got.code, code) << got.err;
    EXPECT_EQ(got.out, "");
    return got.err;
  };
  expect_in(said({"99"}, cli::failed), "there is no record 99; `oxherd calibrations ROOM/SENSOR` lists them\n");
  for (const std::string word : {"x", "0", "-1", "1.5", "99999999999999999999"})
    expect_in(said({word}, cli::usage), "\"" + word + "\" is not the number of a record");
  expect_in(said({}, cli::usage), "name one record by its number");
  expect_in(said({"1", "2"}, cli::usage), "name one record by its number");
  expect_in(said({"1", "--json", "--html", "a.html"}, cli::usage), "--json and --html exclude each other\n");
}

} // namespace oxherd::daemon::calibrations_test
