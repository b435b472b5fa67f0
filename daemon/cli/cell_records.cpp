#include "daemon/cli/cell_records.hpp"

#include <algorithm>

#include <fmt/core.h>
#include <nlohmann/json.hpp>

#include "compensation/cells/catalogue.hpp"
#include "config/load.hpp"
#include "daemon/cli/profile_dirs.hpp"
#include "daemon/cli/text.hpp"
#include "daemon/store/store.hpp"

namespace oxherd::daemon::cli {
namespace {

/// The cells as the records alone know them: each where it was seen last, with the intervals that hold by default.
std::vector<CellInUse> cells_of(const std::vector<CalibrationRecord>& records) {
  std::vector<CellInUse> cells;
  for (const auto& record : records) {
    const auto same = std::ranges::find_if(cells, [&](const CellInUse& cell) {
      return cell.cell.serial == record.serial &&
             (!record.serial.empty() || (cell.room == record.room && cell.sensor == record.sensor));
    });
    auto& cell = same == cells.end() ? cells.emplace_back() : *same;
    cell.room = record.room;
    cell.sensor = record.sensor;
    cell.cell.serial = record.serial;
    if (const auto* law = compensation::cells::find(record.model)) cell.cell.cell.model = law->model;
  }
  return cells;
}

/// The records that a daemon left; nothing yet of the cells.
tl::expected<CellsAndRecords, AnswerError> from_files(const Arguments& arguments, Console& console,
                                                      std::string_view command, const AnswerError& unanswered) {
  const auto state_dir = state_dir_of(arguments);
  auto records = calibration_records(state_dir);
  if (!records)
    return tl::unexpected(AnswerError{no_daemon, fmt::format("{}; {}", unanswered.what, records.error().what)});
  console.err << fmt::format("oxherd {}: no daemon answers in {}: these are the records it left\n", command,
                             state_dir.string());
  return CellsAndRecords{{}, std::move(*records)};
}

void add_cells(CellsAndRecords& known, const Arguments& arguments, Console& console, std::string_view command) {
  const auto file = config_file_of(arguments);
  if (const auto loaded = config::load(file, profile_dirs())) {
    known.cells = cells_in_use(loaded->settings);
    return;
  }
  known.cells = cells_of(known.records);
  console.err << fmt::format("oxherd {}: no settings could be read from {} (`oxherd check` says why): cells as their "
                             "records name them, with the default intervals\n",
                             command, printable(file));
}

} // namespace

Option config_option() {
  return {"--config", "FILE", "the settings file (default: /etc/oxherd/oxherd.toml)", "/etc/oxherd/oxherd.toml"};
}

std::string config_file_of(const Arguments& arguments) {
  return arguments.value_or("--config", "/etc/oxherd/oxherd.toml");
}

tl::expected<CellsAndRecords, AnswerError> known_cells(const Arguments& arguments, Console& console,
                                                       std::string_view command, WantedOfCells wanted) {
  const auto answer = ask(state_dir_of(arguments), {{"command", "calibrations"}});
  if (!answer && answer.error().exit == no_daemon) {
    auto files = from_files(arguments, console, command, answer.error());
    if (files && wanted == WantedOfCells::cells_and_records) add_cells(*files, arguments, console, command);
    return files;
  }
  if (!answer) return tl::unexpected(answer.error());
  auto known = cells_and_records_from(answer->dump());
  if (known) return std::move(*known);
  return tl::unexpected(AnswerError{failed, fmt::format("the daemon's answer: {}", printable(known.error()))});
}

} // namespace oxherd::daemon::cli
