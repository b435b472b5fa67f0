#include "daemon/cli/calibrate_text.hpp"

#include <fmt/core.h>
#include <nlohmann/json.hpp>

#include "daemon/calibration/record_json.hpp"
#include "daemon/cli/answer.hpp"
#include "daemon/cli/table.hpp"
#include "daemon/cli/text.hpp"

namespace oxherd::daemon::cli {
namespace {

using nlohmann::json;

std::string fraction_text(const std::optional<Uncertain<DryFraction>>& value) {
  if (!value) return "-";
  return fmt::format("{:.3f} % ± {:.3f} %", value->value.si() * 100.0, 2.0 * value->u_si * 100.0);
}

std::string points_text(const CalibrationRecord& record) {
  Table table{2};
  table.add({"gas", "oxygen, dry", "signal", "as found (k = 2)", "as left (k = 2)"});
  for (const auto& point : record.points)
    table.add({std::string{name_of(point.gas.kind)}, fmt::format("{:.3f} %", point.gas.oxygen.value.si() * 100.0),
               fmt::format("{:.4f} mV", point.values.signal.value.si() * 1e3), fraction_text(point.as_found),
               fraction_text(point.as_left)});
  return table.text();
}

std::string conditions_text(const CalibrationRecord& record) {
  std::string out;
  for (const auto& point : record.points) {
    const auto& gas = point.values.gas;
    out += fmt::format("  {}: {:.2f} °C ({}), {:.1f} %RH ({}), {:.3f} kPa ({})", name_of(point.gas.kind),
                       gas.temperature.value.si() - 273.15, printable(point.temperature_from),
                       gas.humidity.value.si() * 100.0, printable(point.humidity_from), gas.pressure.value.si() / 1e3,
                       printable(point.pressure_from));
    if (point.stability.samples > 0)
      out += fmt::format("; stable over {:.0f} s, slope {:+.3f} ± {:.3f} %/min", point.stability.seconds,
                         point.stability.slope_per_minute * 100.0, 2.0 * point.stability.u_slope_per_minute * 100.0);
    out += '\n';
  }
  return out;
}

std::string list_text(std::string_view heading, const std::vector<std::string>& lines) {
  if (lines.empty()) return {};
  std::string out = fmt::format("{}\n", heading);
  for (const auto& line : lines) out += "  - " + wrapped(printable(line), 100, 4) + '\n';
  return out;
}

std::vector<std::string> texts_in(const json& list) {
  std::vector<std::string> out;
  for (const auto& one : list)
    if (one.is_string()) out.push_back(one.get<std::string>());
  return out;
}

} // namespace

std::string waiting_text(const json& look) {
  std::string out;
  for (const auto& text : texts_in(list_of(look, "waiting_for"))) out += (out.empty() ? "" : "; ") + printable(text);
  return out.empty() ? "stable" : out;
}

std::string live_line(const json& look) {
  const auto signal = number_of(look, "signal_mv");
  if (!signal) return "no signal yet; " + waiting_text(look);
  std::string out = fmt::format("{:.4f} mV", *signal);
  if (const auto dry = number_of(look, "dry_fraction"))
    out += fmt::format(", {:.2f} % by the present calibration", *dry * 100.0);
  out += fmt::format(", {:.0f} of {:.0f} s", number_of(look, "window_s").value_or(0.0),
                     number_of(look, "window_wanted_s").value_or(0.0));
  return out + "; " + waiting_text(look);
}

std::string proposal_text(const json& proposal) {
  const auto record = record_from_json(object_of(proposal, "record").dump());
  if (!record) return "the daemon's answer cannot be read: " + printable(record.error()) + '\n';
  std::string out = fmt::format("{} of {}/{}, cell {}, by {}\n", name_of(record->act), printable(record->room),
                                printable(record->sensor), printable(record->serial), printable(record->author));
  if (!record->points.empty()) out += points_text(*record) + conditions_text(*record);
  if (const auto& c = record->characteristic)
    out += fmt::format("  sensitivity {} m{}, relative u {:.2f} %; zero {:.4f} mV ± {:.4f} mV\n",
                       short_number(c->sensitivity * 1e3, 6), c->sensitivity_unit,
                       c->sensitivity == 0.0 ? 0.0 : 100.0 * c->u_sensitivity / c->sensitivity,
                       c->zero.value.si() * 1e3, 2.0 * c->zero.u_si * 1e3);
  std::vector<std::string> refusals;
  for (const auto& refusal : list_of(proposal, "refusals"))
    refusals.push_back(text_of(refusal, "text") +
                       (is_true(refusal, "can_be_overridden") ? " (a --reason overrides this)" : ""));
  return out + list_text("Refused because:", refusals) +
         list_text("Warnings:", texts_in(list_of(proposal, "warnings")));
}

std::string stored_text(const json& stored) {
  const auto& record = object_of(stored, "record");
  const auto number = number_of(record, "number").value_or(0.0);
  std::string out = fmt::format("Recorded with number {:.0f}. ", number);
  const auto act = text_of(record, "act");
  if (act == "adjustment") out += "Readings rest on it from now on. ";
  if (act == "adjustment" || act == "withdrawal")
    out += fmt::format("Stored readings since then: oxherd replay {}/{} forms them anew. ", text_of(record, "room"),
                       text_of(record, "sensor"));
  return wrapped(out + fmt::format("oxherd certificate {:.0f} prints it.", number), 100, 0) + '\n';
}

} // namespace oxherd::daemon::cli
