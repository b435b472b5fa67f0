#include <cmath>

#include <fmt/core.h>

#include "alarms/texts.hpp"
#include "daemon/calibration/certificate_style.hpp"
#include "daemon/calibration/certificate_text.hpp"
#include "daemon/calibration/html.hpp"
#include "daemon/calibration/wording.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon {
namespace {

/// What stands where nothing was given.
constexpr std::string_view not_stated = "not stated";

std::string or_not_stated(std::string_view text) { return html_text(text.empty() ? not_stated : text); }

/// Local time with its offset, and the same instant in UTC.
std::string both_times(WallTime t) {
  std::string local = rfc3339_local(t);
  local[10] = ' ';
  local.insert(19, " ");
  std::string utc = rfc3339(t).substr(0, 16);
  utc[10] = ' ';
  return fmt::format("{} (UTC: {})", local, utc);
}

/// A figure for print, with a true minus sign.
std::string figure(WithExpanded quantity) {
  std::string text = with_expanded(quantity);
  if (text.front() == '-') text.replace(0, 1, "\u2212");
  return text;
}

std::string pair(std::string_view term, std::string_view html) {
  return fmt::format("<dt>{}</dt><dd>{}</dd>\n", html_text(term), html);
}

/// A table row; cells are HTML already.
std::string row(std::initializer_list<std::string> cells, std::string_view tag = "td") {
  std::string out = "<tr>";
  bool first = true;
  for (const auto& cell : cells) {
    out += fmt::format("<{}{}>{}</{}>", tag, tag == "td" && !first ? " class=\"figure\"" : "", cell, tag);
    first = false;
  }
  return out + "</tr>\n";
}

template <class Q> std::string percent_cell(const std::optional<Uncertain<Q>>& oxygen) {
  return oxygen ? figure(expanded(*oxygen, 100.0)) + " %" : "–";
}

std::string head_of(const CalibrationRecord& record, const CertificateOptions& options) {
  const auto& head = options.head;
  const auto place = head.place.empty() ? record.room : head.place;
  return fmt::format(
      "<header><div><p class=\"organisation\">{}</p><p>{}</p></div><div class=\"number\"><p>Number<br>"
      "<strong>{}</strong></p></div></header>\n<h1>{}</h1>\n<p class=\"lead\">Oxygen cell {}, performed at "
      "{}</p>\n",
      head.organisation.empty() ? "Organisation not stated" : html_text(head.organisation), html_text(head.address),
      html_text(certificate_number(record, head)), certificate_title(record.act), html_text(record.serial),
      html_text(place));
}

std::string item_of(const CalibrationRecord& record, const CertificateOptions& options) {
  return "<section><h2>Item and parties</h2><dl>\n" +
         pair("Item", fmt::format("Oxygen cell, serial number <strong>{}</strong>", or_not_stated(record.serial))) +
         pair("Model of the cell", or_not_stated(record.model)) +
         pair("Installed as", html_text(record.room + "/" + record.sensor)) +
         pair("Condition", options.item_condition.empty() ? std::string{"no remark was recorded"}
                                                          : html_text(options.item_condition)) +
         pair("Owner", or_not_stated(options.head.owner)) + pair("Performed", html_text(both_times(record.performed))) +
         pair("Recorded", html_text(both_times(record.recorded))) +
         pair("Issued", html_text(both_times(options.issued))) +
         pair("Method", html_text(method_text(record, options.head))) + "</dl></section>\n";
}

std::string standards_of(const CalibrationRecord& record) {
  if (record.points.empty()) return {};
  std::string out = "<section><h2>Reference gases and their traceability</h2><table>\n" +
                    row({"Gas", "Oxygen in dry gas", "Cylinder", "Traceability"}, "th");
  for (const auto& point : record.points)
    out += fmt::format("<tr><td>{}</td><td class=\"figure\">{}</td><td>{}</td><td class=\"long\">{}</td></tr>\n",
                       words_for(point.gas.kind), percent_cell(std::optional{point.gas.oxygen}),
                       point.gas.cylinder.empty() ? "–" : html_text(point.gas.cylinder),
                       html_text(traceability_text(point.gas)));
  return out + "</table></section>\n";
}

std::string with_source(WithExpanded quantity, std::string_view unit, std::string_view from) {
  return figure(quantity) + " " + std::string{unit} + "<br><span class=\"small\">" +
         (from.empty() ? "source not recorded" : "from " + html_text(from)) + "</span>";
}

std::string conditions_of(const CalibrationRecord& record) {
  if (record.points.empty()) return {};
  std::string out = "<section><h2>Conditions at the cell</h2><table>\n" +
                    row({"In", "Temperature", "Relative humidity", "Station pressure"}, "th");
  for (const auto& point : record.points) {
    const auto& gas = point.values.gas;
    out += row({std::string{words_for(point.gas.kind)},
                with_source(expanded(gas.temperature, 1.0, -273.15), "°C", point.temperature_from),
                with_source(expanded(gas.humidity, 100.0), "%", point.humidity_from),
                with_source(expanded(gas.pressure, 1e-3), "kPa", point.pressure_from)});
  }
  return out + "</table><p class=\"small\">Station pressure is the absolute pressure at the place, not reduced to sea "
               "level.</p></section>\n";
}

std::string stability_cell(const StabilityEvidence& evidence) {
  if (evidence.samples == 0) return "not recorded";
  return fmt::format(
      "{} %/min<br><span class=\"small\">{} s, {} samples, scatter {:.2g} %</span>",
      figure({evidence.slope_per_minute * 100.0, certificate_coverage * evidence.u_slope_per_minute * 100.0}),
      std::lround(evidence.seconds), evidence.samples, evidence.scatter * 100.0);
}

std::string results_of(const CalibrationRecord& record) {
  if (record.points.empty()) return {};
  const bool adjusted = record.act == CalibrationAct::adjustment;
  std::string out = "<section><h2>Results</h2><table>\n<tr><th>In</th><th>Signal</th><th>Drift of the signal</th><th>" +
                    std::string{adjusted ? "Reading before adjustment (as found)" : "Reading as found"} +
                    (adjusted ? "</th><th>Reading after adjustment (as left)" : "") + "</th></tr>\n";
  for (const auto& point : record.points) {
    const auto signal = figure(expanded(point.values.signal, 1e3)) + " mV";
    const std::string kind{words_for(point.gas.kind)};
    out += adjusted ? row({kind, signal, stability_cell(point.stability), percent_cell(point.as_found),
                           percent_cell(point.as_left)})
                    : row({kind, signal, stability_cell(point.stability), percent_cell(point.as_found)});
  }
  out += "</table><p class=\"small\">Readings are volume fractions of oxygen in the dry gas.</p>";
  if (record.characteristic) {
    const auto& cell = *record.characteristic;
    const auto unit = readable_sensitivity_unit(cell.sensitivity_unit);
    const bool nernst = record.model == "nernst";
    out += "<dl>" +
           pair(nernst ? "Slope factor" : "Sensitivity",
                figure({cell.sensitivity * unit.per_si, certificate_coverage * cell.u_sensitivity * unit.per_si}) +
                    " " + html_text(unit.text)) +
           pair(nernst ? "Asymmetry offset" : "Zero signal", figure(expanded(cell.zero, 1e3)) + " mV") + "</dl>";
  }
  return out + "<p class=\"small\">" + html_text(uncertainty_text()) + "</p></section>\n";
}

std::string conformity_of(const CalibrationRecord& record, const CertificateOptions& options) {
  if (!options.conformity || record.act == CalibrationAct::bump_test) return {};
  const auto outcome = outcome_of(record, *options.conformity);
  std::string out = "<section><h2>Statement of conformity, as found</h2>\n";
  if (outcome.points.empty())
    return out + "<p>No reading as found was recorded: conformity is not stated.</p></section>\n";
  out += "<table>" + row({"In", "Error", "Tolerance", "Decision"}, "th");
  for (const auto& point : outcome.points)
    out += row({std::string{words_for(point.gas)}, figure({point.error * 100.0, point.expanded * 100.0}) + " % O₂",
                "± " + percent_text(point.tolerance) + " % O₂",
                point.passed ? "conforms" : "<strong>does not conform</strong>"});
  return out + "</table><p class=\"small\">" + html_text(decision_rule()) + "</p></section>\n";
}

std::string remarks_of(const CalibrationRecord& record, const CertificateOptions& options) {
  std::string items;
  if (record.supersedes) items += fmt::format("<p>Replaces record {}.</p>\n", *record.supersedes);
  for (const auto& warning : record.warnings) items += "<p>Noted: " + html_text(warning) + "</p>\n";
  if (!record.reason.empty()) items += "<p>Reason given: " + html_text(record.reason) + "</p>\n";
  if (options.next_due)
    items += "<p>At the request of the owner: next calibration due on " + day_text(*options.next_due) + ".</p>\n";
  return items.empty() ? std::string{} : "<section><h2>Remarks</h2>\n" + items + "</section>\n";
}

std::string close_of(const CalibrationRecord& record, const CertificateOptions& options) {
  const auto number = html_text(certificate_number(record, options.head));
  return fmt::format(
      "<p class=\"small\">{}</p>\n<div class=\"signature\"><div>Performed by<br><strong>{}</strong></div>"
      "<div>Authorised by<br><strong>{}</strong></div></div>\n<p class=\"caution\">{}</p>\n"
      "<p class=\"end\">End of {} {}</p>\n",
      html_text(scope_text()), or_not_stated(record.author), or_not_stated(options.head.authorised_by),
      html_text(alarms::caution_long()), record.act == CalibrationAct::bump_test ? "report" : "certificate", number);
}

} // namespace

tl::expected<std::string, std::string> certificate_html(const CalibrationRecord& record,
                                                        const CertificateOptions& options) {
  if (record.act == CalibrationAct::withdrawal)
    return tl::unexpected(std::string{"a withdrawal has no result to certify: print the record that it withdraws"});
  const auto number = certificate_number(record, options.head);
  const auto standing = standing_text(options.standing, options.head);
  std::string out = "<!DOCTYPE html>\n<html lang=\"en\">\n<head><meta charset=\"utf-8\">\n<title>" +
                    html_text(fmt::format("{} {}", certificate_title(record.act), number)) + "</title>\n" +
                    certificate_style(number) + "</head>\n<body><main>\n";
  out += head_of(record, options);
  if (!standing.empty()) {
    const bool withdrawn = options.standing.kind == Standing::Kind::withdrawn;
    out += fmt::format("<p class=\"void\">{}</p>\n<div class=\"void-mark\" aria-hidden=\"true\">{}</div>\n",
                       html_text(standing), withdrawn ? "WITHDRAWN" : "SUPERSEDED");
  }
  out += item_of(record, options) + standards_of(record) + conditions_of(record) + results_of(record) +
         conformity_of(record, options) + remarks_of(record, options) + close_of(record, options);
  return out + "</main></body>\n</html>\n";
}

} // namespace oxherd::daemon
