#include <algorithm>
#include <chrono>

#include <fmt/core.h>

#include "alarms/texts.hpp"
#include "config/nearest.hpp"
#include "daemon/cli/calibrations_text.hpp"
#include "daemon/cli/cell_records.hpp"
#include "daemon/cli/command.hpp"
#include "daemon/cli/text.hpp"
#include "daemon/cli/wording.hpp"
#include "daemon/clock.hpp"

namespace oxherd::daemon::cli {
namespace {

std::vector<Option> calibrations_options() { return {config_option(), state_dir_option(), json_option()}; }

AnswerError no_such_cell(const CellsAndRecords& known, const std::string& word) {
  std::vector<std::string> names;
  for (const auto& cell : known.cells) {
    names.push_back(cell.room + "/" + cell.sensor);
    if (!cell.cell.serial.empty()) names.push_back(cell.cell.serial);
  }
  for (const auto& record : known.records)
    if (!record.serial.empty()) names.push_back(record.serial);
  const auto meant = config::nearest(word, names);
  return {failed, fmt::format("there is no cell {}; {}", printable(word),
                              meant ? fmt::format("did you mean {}?", printable(*meant))
                                    : std::string{"`oxherd calibrations` lists them"})};
}

/// The serial numbers of other cells that were calibrated at the same place, in the order of their records.
std::vector<std::string> earlier_cells(const CellsAndRecords& known, const CellInUse& cell) {
  std::vector<std::string> serials;
  for (const auto& record : known.records) {
    const bool here = record.room == cell.room && record.sensor == cell.sensor;
    if (here && record.serial != cell.cell.serial && !record.serial.empty() &&
        std::ranges::find(serials, record.serial) == serials.end())
      serials.push_back(record.serial);
  }
  return serials;
}

int show_one(const CellsAndRecords& known, const std::string& word, const Arguments& arguments, Console& console,
             WallTime now) {
  const auto meant = cell_meant(known, word, now);
  if (!meant) return report(console, "calibrations", no_such_cell(known, word));
  const auto& view = *meant;
  if (arguments.given("--json")) {
    console.out << one_cell_json(view, known.records, now);
    return fine;
  }
  console.out << one_cell_text(console, view, known.records, now);
  for (const auto& serial : earlier_cells(known, view.cell))
    console.out << fmt::format("Cell {} was calibrated here too: oxherd calibrations {}\n", printable(serial),
                               printable(serial));
  console.out << '\n' << wrapped(alarms::caution_short(), 100, 0) << '\n';
  return fine;
}

int run_calibrations(const Arguments& arguments, Console& console) {
  const auto& words = arguments.positional();
  if (words.size() > 1)
    return report(console, "calibrations", {usage, "name one cell, by its sensor or its serial number"});
  const auto known = known_cells(arguments, console, "calibrations");
  if (!known) return report(console, "calibrations", known.error());
  const auto now = wall_now();
  if (!words.empty()) return show_one(*known, words.front(), arguments, console, now);
  const auto views = views_of(*known, now);
  if (arguments.given("--json"))
    console.out << all_cells_json(views, now);
  else
    console.out << all_cells_text(console, views, now) << '\n' << wrapped(alarms::caution_short(), 100, 0) << '\n';
  return fine;
}

} // namespace

const Command calibrations_entry{
    "calibrations",
    "every cell's calibration, drift, forecast and due dates; one cell's whole life",
    "Shows all cells, those that need a person first, or one cell with its sensitivity over time and every record of "
    "it. Asks the daemon, or reads its files and the settings when none runs.",
    "[ROOM/SENSOR|SERIAL]",
    "oxherd calibrations\n"
    "oxherd calibrations cryo-annexe/cell-a\n"
    "oxherd calibrations LK-0007 --json",
    calibrations_options,
    run_calibrations};

} // namespace oxherd::daemon::cli
