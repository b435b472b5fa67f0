#include "daemon/cli/wording.hpp"

#include <algorithm>

#include <fmt/core.h>

#include "daemon/cli/calibrations_text.hpp"
#include "daemon/cli/explain_inputs.hpp"
#include "daemon/cli/explain_options.hpp"
#include "daemon/cli/explain_stored.hpp"

namespace oxherd::daemon::cli {
namespace {

/// A cell that sits nowhere any more, as its last record knew it.
std::optional<CellInUse> cell_of_records(const CellsAndRecords& known, const std::string& serial) {
  std::optional<CellInUse> found;
  for (const auto& record : known.records) {
    if (record.serial != serial || serial.empty()) continue;
    found = CellInUse{record.room, record.sensor, {}, {}};
    found->cell.serial = serial;
    found->cell.upkeep = {{}, {}, {}, {}}; // nobody looks after it now
  }
  return found;
}

tl::expected<std::string, std::string> one_cell(const CellsAndRecords& known, const std::string& word, WallTime now) {
  const auto view = cell_meant(known, word, now);
  if (!view) return tl::unexpected(fmt::format("there is no cell {}", word));
  return one_cell_json(*view, known.records, now);
}

tl::expected<std::string, std::string> explained(const std::map<std::string, std::string>& values) {
  const auto options = explain_options();
  Arguments arguments;
  for (const auto& [name, value] : values) {
    const auto known = std::ranges::find(options, "--" + name, &Option::name);
    const bool asks_for_a_record = std::ranges::find(stored_options(), "--" + name) != stored_options().end();
    if (known == options.end() || known->value.empty() || asks_for_a_record)
      return tl::unexpected(fmt::format("there is no value \"{}\"; `oxherd explain --help` lists them", name));
    arguments.set(known->name, value);
  }
  const auto explanation = typed_explanation(arguments);
  if (explanation) return explain_json(*explanation);
  std::string all;
  for (const auto& problem : explanation.error().problems) all += (all.empty() ? "" : "; ") + problem;
  return tl::unexpected(all);
}

} // namespace

tl::expected<Explanation, NotExplained> typed_explanation(const Arguments& arguments) {
  auto typed = read_typed_case(arguments);
  if (!typed) return tl::unexpected(NotExplained{usage, typed.error()});
  const auto reading =
      compensation::read_oxygen(*typed->cell, *typed->calibration, *typed->signal, typed->now.gas, typed->errors);
  if (!reading) return tl::unexpected(NotExplained{failed, {reading.error().what}});
  typed->reading = *reading;
  if (const auto characteristic = compensation::characterise(*typed->cell, *typed->calibration))
    typed->characteristic = *characteristic;
  return std::move(*typed);
}

std::optional<CellView> cell_meant(const CellsAndRecords& known, const std::string& word, WallTime now) {
  for (const auto& cell : known.cells)
    if (cell.room + "/" + cell.sensor == word || (cell.cell.serial == word && !word.empty()))
      return view_of(cell, known.records, now);
  const auto gone = cell_of_records(known, word);
  if (!gone) return std::nullopt;
  auto view = view_of(*gone, known.records, now);
  view.in_use = false;
  return view;
}

Wording wording() {
  return {[](RecordedOxygen recorded) { return explain_json(explanation_of(std::move(recorded))); }, explained,
          [](const CellsAndRecords& known, WallTime now) { return all_cells_json(views_of(known, now), now); },
          one_cell};
}

} // namespace oxherd::daemon::cli
