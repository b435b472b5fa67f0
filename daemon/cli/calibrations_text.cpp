#include "daemon/cli/calibrations_text.hpp"

#include <algorithm>
#include <iterator>

#include <fmt/core.h>

#include "compensation/cells/catalogue.hpp"
#include "daemon/calibration/certificate_text.hpp"
#include "daemon/calibration/wording.hpp"
#include "daemon/cli/sensitivity_plot.hpp"
#include "daemon/cli/table.hpp"
#include "daemon/cli/text.hpp"

namespace oxherd::daemon::cli {
namespace {

std::string age_in_days(WallTime at, WallTime now) {
  return fmt::format("{} d", std::chrono::floor<std::chrono::days>(now - at).count());
}

std::string serial_text(const CellView& view) {
  return view.cell.cell.serial.empty() ? "no serial" : printable(view.cell.cell.serial);
}

/// Of the calibration in force: "2026-03-01 (12 d ago)".
std::string calibrated_text(const CellView& view, WallTime now) {
  if (!view.in_force) return "-";
  if (!view.in_force->at) return "date unknown";
  return fmt::format("{} ({})", day_text(*view.in_force->at), age_in_days(*view.in_force->at, now));
}

std::string in_force_text(const CellView& view, WallTime now) {
  if (!view.in_force) return "none: calibrate the cell before relying on it";
  return calibrated_text(view, now) + (view.in_force->number == 0 ? ", stands in the settings file"
                                                                  : fmt::format(", record {}", view.in_force->number));
}

std::string share_text(const CellLife& life) {
  return life.sensitivities.empty() ? "-" : fmt::format("{:.1f} %", life.sensitivities.back().share * 100.0);
}

std::string drift_text(const CellLife& life) {
  if (!life.drift) return "-";
  const auto& band = life.drift->per_month_interval;
  return fmt::format("{:+.2f} ({:+.2f} to {:+.2f})", life.drift->per_month * 100.0, band.low * 100.0,
                     band.high * 100.0);
}

/// "2027-03-01 (2026-11-20 to 2028-01-05)".
std::string forecast_text(const Forecast& forecast) {
  if (!forecast.expected) return forecast.unknown;
  return fmt::format("{} ({} to {})", day_text(*forecast.expected), day_text(*forecast.earliest),
                     forecast.latest ? day_text(*forecast.latest) : "later than ten years from now");
}

std::string replace_text(const CellView& view) {
  const auto& life = view.life;
  if (!life.replace_by) return view.cell.cell.upkeep.permitted_age ? "-" : "no age set";
  const bool by_age = life.replace_by == life.end_of_permitted_age;
  return fmt::format("{} ({})", day_text(*life.replace_by), by_age ? "age" : "spent " + forecast_text(life.failure));
}

constexpr std::string_view undated_text =
    "undated: the calibration stands in the settings file without its date (key \"at\"), so nobody can tell when the "
    "next one is due\n";

bool is_undated(const CellView& view) { return view.in_force && !view.in_force->at; }

Stress stress_of(alarms::Status status) {
  if (status == alarms::Status::ok) return Stress::none;
  return alarms::quality_of(status) == alarms::Quality::bad ? Stress::alarm : Stress::warning;
}

std::string reasons_lines(const Console& console, const CellView& view) {
  std::string out;
  for (const auto& reason : view.life.reasons) {
    std::string words{alarms::name_of(reason.status)};
    std::ranges::replace(words, '_', ' ');
    out +=
        fmt::format("  {}\n", stressed(console, stress_of(reason.status), fmt::format("{}: {}", words, reason.text)));
  }
  return out;
}

std::string percent_list(const CalibrationRecord& record, std::optional<Uncertain<DryFraction>> TakenPoint::*reading) {
  std::string out;
  for (const auto& point : record.points)
    if (const auto& found = point.*reading) out += (out.empty() ? "" : "; ") + with_expanded(expanded(*found, 100.0));
  return out.empty() ? "-" : out;
}

std::string gases_text(const CalibrationRecord& record) {
  std::string out;
  for (const auto& point : record.points)
    out += fmt::format("{}{} % in {}", out.empty() ? "" : "; ", daemon::percent_text(point.gas.oxygen.value.si()),
                       words_for(point.gas.kind));
  return out.empty() ? "-" : out;
}

std::string sensitivity_text(const CalibrationRecord& record) {
  if (!record.characteristic) return "-";
  const auto& cell = *record.characteristic;
  const auto unit = readable_sensitivity_unit(cell.sensitivity_unit);
  return with_expanded({cell.sensitivity * unit.per_si, certificate_coverage * cell.u_sensitivity * unit.per_si}) +
         (unit.text.empty() ? "" : " " + std::string{unit.text});
}

/// "withdrawn by 6", "replaces 3; the hose was off".
std::string remarks_on(const CalibrationRecord& record, const std::vector<CalibrationRecord>& records) {
  std::string out;
  const auto add = [&out](const std::string& text) { out += (out.empty() ? "" : "; ") + text; };
  const auto standing = standing_of(records, record.number);
  if (standing.kind == Standing::Kind::withdrawn) add(fmt::format("WITHDRAWN by {}", standing.by));
  if (standing.kind == Standing::Kind::replaced) add(fmt::format("SUPERSEDED by {}", standing.by));
  if (record.supersedes)
    add(fmt::format("{} {}", record.act == CalibrationAct::withdrawal ? "withdraws" : "replaces", *record.supersedes));
  if (!record.reason.empty()) add(printable(record.reason));
  if (!record.warnings.empty()) add(counted(record.warnings.size(), "warning"));
  return out;
}

std::string records_table(const std::vector<CalibrationRecord>& own, const std::vector<CalibrationRecord>& records) {
  Table table{2};
  table.add({"no.", "act", "performed", "by", "gas (dry)", "as found %", "as left %", "sensitivity", "remarks"});
  for (const auto& record : own)
    table.add({record.number == 0 ? "file" : std::to_string(record.number), std::string{name_of(record.act)},
               day_text(record.performed), record.author.empty() ? "-" : printable(record.author), gases_text(record),
               percent_list(record, &TakenPoint::as_found), percent_list(record, &TakenPoint::as_left),
               sensitivity_text(record), remarks_on(record, records)});
  return table.text();
}

std::string life_table(const CellView& view, WallTime now) {
  const auto& life = view.life;
  const auto plan = plan_for(view.cell.cell);
  Table table{2};
  table.add({"calibration in force", in_force_text(view, now)});
  if (life.first_use)
    table.add(
        {"first used",
         fmt::format("{}, {:.1f} months ago{}", day_text(*life.first_use), life.age->count(),
                     plan.permitted_age ? fmt::format(" (permitted: {:.0f})", plan.permitted_age->count()) : "")});
  if (!life.sensitivities.empty()) table.add({"sensitivity now", share_text(life) + " of its first"});
  table.add({"drift", life.drift ? fmt::format("{} %/month, 95 % interval{}", drift_text(life),
                                               life.drift->significant ? "" : "; not told from no drift")
                                 : "unknown: " + life.drift_unknown});
  table.add({fmt::format("worn (below {:.0f} %)", plan.maintenance_share * 100.0), forecast_text(life.maintenance)});
  table.add({fmt::format("spent (below {:.0f} %)", plan.failure_share * 100.0), forecast_text(life.failure)});
  table.add({"replace by", replace_text(view)});
  table.add({"next check with gas", due_text(next_check_of(view), now)});
  table.add({"next calibration", due_text(next_calibration_of(view), now)});
  return table.text();
}

} // namespace

std::vector<CalibrationRecord> every_record_of(const CellInUse& cell, const std::vector<CalibrationRecord>& records) {
  std::vector<CalibrationRecord> own;
  std::ranges::copy_if(records, std::back_inserter(own), [&](const CalibrationRecord& record) {
    return record.serial == cell.cell.serial &&
           (!record.serial.empty() || (record.room == cell.room && record.sensor == cell.sensor));
  });
  return own;
}

std::string all_cells_text(const Console& console, const std::vector<CellView>& views, WallTime now) {
  if (views.empty()) return "There is no cell: nothing to calibrate.\n";
  Table table;
  table.add({"sensor", "cell", "state", "calibrated", "next check", "next calibration", "sensitivity",
             "drift %/month (95 %)", "replace by"});
  for (const auto& view : views)
    table.add({printable(view.name()), serial_text(view), state_words(view), calibrated_text(view, now),
               due_text(next_check_of(view), now), due_text(next_calibration_of(view), now), share_text(view.life),
               drift_text(view.life), replace_text(view)});
  std::string out = table.text();
  std::string against;
  for (const auto& view : views)
    if (const auto lines = reasons_lines(console, view); !lines.empty())
      against += fmt::format("{}, {}\n{}", printable(view.name()), serial_text(view), lines);
  if (!against.empty()) out += "\n" + against;
  if (std::ranges::any_of(views, is_undated)) out += fmt::format("\n{}", undated_text);
  return out +
         fmt::format("\n{}; sensitivity in percent of the cell's first; days in UTC\n", counted(views.size(), "cell"));
}

std::string one_cell_text(const Console& console, const CellView& view, const std::vector<CalibrationRecord>& records,
                          WallTime now) {
  std::string out = fmt::format("{}: cell {} ({}), {}\n", printable(view.name()), serial_text(view),
                                compensation::cells::law_of(view.cell.cell.cell.model).name,
                                stressed(console, stress_of(view.status), state_words(view)));
  if (is_undated(view)) out += fmt::format("  {}", undated_text);
  out += reasons_lines(console, view) + life_table(view, now);
  if (const auto plot = sensitivity_plot(view.life.sensitivities); !plot.empty()) out += "\n" + plot;
  auto own = every_record_of(view.cell, records);
  if (!view.standing.empty() && view.standing.front().number == 0) own.insert(own.begin(), view.standing.front());
  if (own.empty()) return out + "\nThere is no record of this cell.\n";
  return out + "\n" + records_table(own, records) + "\nUncertainties are expanded (k = 2); days in UTC.\n";
}

} // namespace oxherd::daemon::cli
