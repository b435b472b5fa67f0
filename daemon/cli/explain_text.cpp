#include <fmt/core.h>

#include "alarms/texts.hpp"
#include "compensation/cells/catalogue.hpp"
#include "daemon/calibration/certificate_text.hpp"
#include "daemon/cli/explain_stored.hpp"
#include "daemon/cli/table.hpp"
#include "daemon/cli/text.hpp"

namespace oxherd::daemon::cli {
namespace {

using compensation::OxygenReading;

constexpr std::size_t text_width = 100;

std::string millivolts_text(Uncertain<Signal> s) {
  return fmt::format("{} mV ± {} mV", short_number(s.value.si() * 1e3, 6), short_number(s.u_si * 1e3, 2));
}
std::string celsius_text(Uncertain<Temperature> t) {
  return fmt::format("{:.2f} °C ± {} K", t.value.si() - 273.15, short_number(t.u_si, 2));
}
std::string kilopascal_text(double pascal) { return fmt::format("{:.4f} kPa", pascal / 1e3); }
std::string ratio_text(Uncertain<RelativeHumidity> h) {
  return fmt::format("{} % ± {} %", short_number(h.value.si() * 100.0, 4), short_number(h.u_si * 100.0, 2));
}
std::string pressure_text(Uncertain<Pressure> p) {
  return fmt::format("{:.4f} kPa ± {} kPa", p.value.si() / 1e3, short_number(p.u_si / 1e3, 2));
}
std::string probe_text(const compensation::GasConditions& gas) {
  return gas.humidity_temperature ? celsius_text(*gas.humidity_temperature) : "the same thermometer";
}
std::string dry_text(const Uncertain<DryFraction>& oxygen) {
  return fmt::format("in {} % oxygen, dry", short_number(oxygen.value.si() * 100.0, 6));
}

/// What the calibration says of the cell itself.
void add_characteristic(Table& table, const Explanation& explained) {
  if (!explained.characteristic) return;
  const auto& cell = *explained.characteristic;
  if (explained.cell->nernst) {
    table.add({"slope factor",
               fmt::format("{} ± {}", short_number(cell.sensitivity, 6), short_number(cell.u_sensitivity, 2)),
               explained.calibration->low ? "of the ideal slope" : "taken as ideal: calibrated at one point"});
    table.add({"asymmetry", millivolts_text(cell.zero), "with equal oxygen on both sides"});
    return;
  }
  const auto unit = readable_sensitivity_unit(cell.sensitivity_unit);
  const auto& response = explained.cell->response;
  table.add({"sensitivity",
             fmt::format("{} ± {} {}", short_number(cell.sensitivity * unit.per_si, 6),
                         short_number(cell.u_sensitivity * unit.per_si, 2), unit.text),
             response.coefficients.empty() ? "" : fmt::format("at {:.1f} °C", response.reference.si() - 273.15)});
  if (explained.calibration->low) table.add({"zero signal", millivolts_text(cell.zero), "from both points"});
}

void add_errors(Table& table, const Explanation& explained) {
  const auto& errors = explained.errors;
  if (errors.resolution_V > 0.0)
    table.add({"resolution", fmt::format("{} mV", short_number(errors.resolution_V * 1e3, 4)), "step of the signal"});
  if (errors.linearity > 0.0)
    table.add({"linearity", fmt::format("± {} %", short_number(errors.linearity * 100.0, 3)),
               "of the signal between the points, midway"});
  if (!explained.drift_per_month || !explained.calibration_age_s) return;
  table.add({"drift", fmt::format("{} % a month", short_number(*explained.drift_per_month * 100.0, 3)),
             fmt::format("at most, for {} since the calibration", duration_text(*explained.calibration_age_s))});
}

std::string signal_step(const Explanation& explained) {
  Table table{2};
  if (explained.reported)
    table.add(
        {"reported",
         fmt::format("{} % ± {} %", short_number(explained.reported->value.si() * 100.0, 6),
                     short_number(explained.reported->u_si * 100.0, 2)),
         explained.reports_dry ? "oxygen, dry basis, by the transmitter" : "oxygen, wet basis, by the transmitter"});
  else
    table.add({explained.cell ? "signal now" : "reported",
               explained.signal ? millivolts_text(*explained.signal) : "none that can be used"});
  if (explained.calibration) {
    const auto& calibration = *explained.calibration;
    table.add({"signal at calibration", millivolts_text(calibration.span.signal), dry_text(calibration.span.oxygen)});
    if (calibration.low)
      table.add(
          {"signal at the low point", millivolts_text(calibration.low->signal), dry_text(calibration.low->oxygen)});
    else if (!explained.cell->nernst)
      table.add({"zero signal", millivolts_text(calibration.zero)});
    add_characteristic(table, explained);
    add_errors(table, explained);
  }
  if (explained.cell && explained.cell->nernst) table.add({"furnace", celsius_text(explained.cell->nernst->furnace)});
  if (explained.reading && explained.calibration)
    table.add({"uncorrected", percent_text(explained.reading->uncorrected, 3), "what the signal alone would say"});
  return "1. Signal (each ± one standard uncertainty)\n" + table.text();
}

std::string conditions_step(const Explanation& explained) {
  const auto& now = explained.now;
  const auto& then = explained.at_calibration;
  const bool both = explained.calibration.has_value();
  Table table{2};
  const auto add = [&](std::string name, std::string here, std::string there) {
    table.add({std::move(name), std::move(here), both ? std::move(there) : std::string{}});
  };
  const auto add_source = [&](const std::string& here, const std::string& there) {
    if (!here.empty()) add("  obtained from", printable(here), printable(there));
  };
  add("", "now", "at calibration");
  add("temperature", celsius_text(now.gas.temperature), celsius_text(then.gas.temperature));
  add_source(now.temperature_from, then.temperature_from);
  add("relative humidity", ratio_text(now.gas.humidity), ratio_text(then.gas.humidity));
  add_source(now.humidity_from, then.humidity_from);
  if (now.gas.humidity_temperature || (both && then.gas.humidity_temperature))
    add("humidity probe at", probe_text(now.gas), probe_text(then.gas));
  add("station pressure", pressure_text(now.gas.pressure), pressure_text(then.gas.pressure));
  add_source(now.pressure_from, then.pressure_from);
  if (explained.reading) {
    const auto& reading = *explained.reading;
    add("saturation pressure", kilopascal_text(reading.saturation.si()), "");
    add("vapour pressure", kilopascal_text(reading.vapour.si()), kilopascal_text(reading.vapour_at_calibration.si()));
  }
  return "\n2. Conditions\n" + table.text();
}

std::vector<std::string> factor_row(std::string name, double factor) {
  return {std::move(name), fmt::format("x {:.6f}", factor), fmt::format("{:+.2f} %", (factor - 1.0) * 100.0)};
}

std::string correction_step(const Explanation& explained) {
  if (!explained.cell)
    return "\n3. Correction\n  none of ours: the transmitter corrects its own cell; its fraction is only brought to "
           "the "
           "other bases\n";
  const auto& f = explained.reading->factors;
  Table table{2};
  table.add(factor_row("temperature", f.temperature));
  table.add(factor_row("pressure", f.pressure));
  table.add(factor_row("humidity", f.humidity));
  table.add(factor_row("together", f.temperature * f.pressure * f.humidity));
  return "\n3. Correction from the conditions at calibration to those now\n" + table.text();
}

std::string result_step(const OxygenReading& r) {
  constexpr double k = coverage_factor;
  const auto row = [](std::string name, std::string value, std::string u, std::string expanded) {
    return std::vector<std::string>{std::move(name), std::move(value), std::move(u), std::move(expanded)};
  };
  const auto percent = [&](std::string name, double x, double u) {
    return row(std::move(name), fmt::format("{:.3f} %", x * 100.0), fmt::format("{:.3f} %", u * 100.0),
               fmt::format("± {:.3f} %", k * u * 100.0));
  };
  Table table{2};
  table.add({"", "value", "standard u", "expanded, k = 2"});
  table.add(percent("oxygen, dry basis", r.dry.si(), r.u_dry));
  table.add(percent("oxygen, wet basis", r.wet.si(), r.u_wet));
  table.add(row("partial pressure", fmt::format("{:.3f} kPa", r.po2.si() / 1e3),
                fmt::format("{:.3f} kPa", r.u_po2_Pa / 1e3), fmt::format("± {:.3f} kPa", k * r.u_po2_Pa / 1e3)));
  table.add(row("molar concentration", fmt::format("{:.3f} mol/m³", r.molar.si()),
                fmt::format("{:.3f} mol/m³", r.u_molar), fmt::format("± {:.3f} mol/m³", k * r.u_molar)));
  table.add(row("mass concentration", fmt::format("{:.2f} g/m³", r.mass.si() * 1e3),
                fmt::format("{:.2f} g/m³", r.u_mass * 1e3), fmt::format("± {:.2f} g/m³", k * r.u_mass * 1e3)));
  table.add(percent("sea-level equivalent", r.sea_level_equivalent, r.u_sea_level_equivalent));
  return "\n4. Result\n" + table.text() +
         "  The sea-level equivalent is the fraction at 101.325 kPa that has this partial pressure.\n";
}

std::string budget_step(const OxygenReading& reading) {
  Table table{2};
  for (const auto& line : sorted_budget(reading))
    table.add({std::string{compensation::name_of(line.input)}, fmt::format("{:.4f} %", line.contribution * 100.0),
               fmt::format("{:.1f} %", line.share * 100.0)});
  return "\n5. Where the uncertainty of the dry fraction comes from (in oxygen; share of the variance)\n" +
         (table.empty() ? "  every input was typed as exact\n" : table.text());
}

std::string sentences(std::string_view heading, const std::vector<std::string>& lines) {
  if (lines.empty()) return "";
  std::string out = fmt::format("\n{}\n", heading);
  for (const auto& line : lines) out += "  - " + wrapped(printable(line), text_width, 4) + '\n';
  return out;
}

std::string model_line(const Explanation& explained) {
  if (!explained.cell) return "Transmitter: reports the oxygen fraction itself\n\n";
  const auto& law = compensation::cells::law_of(explained.cell->model);
  return fmt::format("Cell model {}: {}\n\n", law.name, law.help);
}

/// Why nothing came of it, in place of the steps that are missing.
std::string no_result(const Explanation& explained) {
  std::vector<std::string> why;
  for (const auto& reason : explained.stored->reasons) why.push_back(reason.text);
  if (why.empty()) why.emplace_back("no signal came; the record gives no reason");
  return sentences("3. Result: NO OXYGEN VALUE, because", why);
}

} // namespace

std::string explain_text(const Explanation& explained) {
  std::string out = explained.stored ? stored_heading(explained) : "";
  out += model_line(explained);
  if (explained.stored) out += stored_calibration(explained);
  out += signal_step(explained) + conditions_step(explained);
  if (const auto& reading = explained.reading)
    out += correction_step(explained) + result_step(*reading) + budget_step(*reading);
  else
    out += no_result(explained);
  if (explained.stored) out += stored_proof(*explained.stored);
  return out + sentences("Assumed, because it was not given:", explained.assumed) +
         sentences("Warnings:", doubts_about(explained)) + '\n' + wrapped(alarms::caution_short(), text_width, 0) +
         '\n';
}

} // namespace oxherd::daemon::cli
