#include <fmt/core.h>

#include "alarms/texts.hpp"
#include "compensation/cells/catalogue.hpp"
#include "daemon/cli/explain_report.hpp"
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

std::string signal_step(const ExplainCase& typed, const OxygenReading& reading) {
  Table table{2};
  table.add({"signal now", millivolts_text(typed.signal)});
  const auto& span = typed.calibration.span;
  table.add({"signal at calibration", millivolts_text(span.signal),
             fmt::format("in {} % oxygen, dry", short_number(span.oxygen.value.si() * 100.0, 6))});
  if (typed.calibration.low)
    table.add({"signal at the low point", millivolts_text(typed.calibration.low->signal),
               fmt::format("in {} % oxygen, dry", short_number(typed.calibration.low->oxygen.value.si() * 100.0, 6))});
  else if (!typed.cell.nernst)
    table.add({"zero signal", millivolts_text(typed.calibration.zero)});
  if (typed.cell.nernst) table.add({"furnace", celsius_text(typed.cell.nernst->furnace)});
  table.add({"uncorrected", percent_text(reading.uncorrected, 3), "what the signal alone would say"});
  return "1. Signal (each ± one standard uncertainty)\n" + table.text();
}

std::string conditions_step(const ExplainCase& typed, const OxygenReading& reading) {
  const auto& now = typed.now;
  const auto& then = typed.at_calibration;
  const bool probes = now.gas.humidity_temperature || then.gas.humidity_temperature;
  Table table{2};
  table.add({"", "now", "at calibration"});
  table.add({"temperature", celsius_text(now.gas.temperature), celsius_text(then.gas.temperature)});
  table.add({"relative humidity", ratio_text(now.gas.humidity), ratio_text(then.gas.humidity)});
  if (probes) table.add({"humidity probe at", probe_text(now.gas), probe_text(then.gas)});
  table.add({"station pressure", pressure_text(now.gas.pressure), pressure_text(then.gas.pressure)});
  table.add({"obtained from", now.pressure_from, then.pressure_from});
  table.add({"saturation pressure", kilopascal_text(reading.saturation.si())});
  table.add(
      {"vapour pressure", kilopascal_text(reading.vapour.si()), kilopascal_text(reading.vapour_at_calibration.si())});
  return "\n2. Conditions\n" + table.text();
}

std::vector<std::string> factor_row(std::string name, double factor) {
  return {std::move(name), fmt::format("x {:.6f}", factor), fmt::format("{:+.2f} %", (factor - 1.0) * 100.0)};
}

std::string correction_step(const OxygenReading& reading) {
  const auto& f = reading.factors;
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
  for (const auto& line : lines) out += "  - " + wrapped(line, text_width, 4) + '\n';
  return out;
}

} // namespace

std::string explain_text(const ExplainCase& typed, const OxygenReading& reading) {
  const auto& law = compensation::cells::law_of(typed.cell.model);
  return fmt::format("Cell model {}: {}\n\n", law.name, law.help) + signal_step(typed, reading) +
         conditions_step(typed, reading) + correction_step(reading) + result_step(reading) + budget_step(reading) +
         sentences("Assumed, because it was not given:", typed.assumed) +
         sentences("Warnings:", doubts_about(typed, reading)) + '\n' + wrapped(alarms::caution_short(), text_width, 0) +
         '\n';
}

} // namespace oxherd::daemon::cli
