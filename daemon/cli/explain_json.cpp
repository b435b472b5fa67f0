#include "alarms/texts.hpp"
#include "daemon/cli/explain_report.hpp"
#include "daemon/json_text.hpp"

namespace oxherd::daemon::cli {
namespace {

std::string quoted_list(const std::vector<std::string>& sentences) {
  std::vector<std::string> quoted;
  for (const auto& sentence : sentences) quoted.push_back(json_string(sentence));
  return json_array(quoted);
}

/// Uncertainties of every output, k = 1 or expanded, under the names of their values.
std::string uncertainties(const compensation::OxygenReading& r, double k) {
  return JsonObject{}
      .number("dry_fraction", k * r.u_dry)
      .number("wet_fraction", k * r.u_wet)
      .number("po2_kpa", k * r.u_po2_Pa / 1e3)
      .number("molar_mol_m3", k * r.u_molar)
      .number("mass_g_m3", k * r.u_mass * 1e3)
      .number("sea_level_equivalent", k * r.u_sea_level_equivalent)
      .str();
}

std::string budget_list(const compensation::OxygenReading& reading) {
  std::vector<std::string> lines;
  for (const auto& line : sorted_budget(reading))
    lines.push_back(JsonObject{}
                        .text("input", compensation::name_of(line.input))
                        .number("contribution", line.contribution)
                        .number("share", line.share)
                        .str());
  return json_array(lines);
}

} // namespace

std::string explain_json(const ExplainCase& typed, const compensation::OxygenReading& reading) {
  const auto factors = JsonObject{}
                           .number("temperature", reading.factors.temperature)
                           .number("pressure", reading.factors.pressure)
                           .number("humidity", reading.factors.humidity)
                           .str();
  return JsonObject{}
      .number("dry_fraction", reading.dry.si())
      .number("wet_fraction", reading.wet.si())
      .number("po2_kpa", reading.po2.si() / 1e3)
      .number("molar_mol_m3", reading.molar.si())
      .number("mass_g_m3", reading.mass.si() * 1e3)
      .number("sea_level_equivalent", reading.sea_level_equivalent)
      .number("uncorrected_fraction", reading.uncorrected)
      .json("factors", factors)
      .json("u", uncertainties(reading, 1.0))
      .number("coverage_factor", coverage_factor)
      .json("expanded", uncertainties(reading, coverage_factor))
      .json("budget", budget_list(reading))
      .number("pressure_kpa", typed.now.gas.pressure.value.si() / 1e3)
      .text("pressure_from", typed.now.pressure_from)
      .number("vapour_pressure_kpa", reading.vapour.si() / 1e3)
      .number("saturation_pressure_kpa", reading.saturation.si() / 1e3)
      .number("cal_pressure_kpa", typed.at_calibration.gas.pressure.value.si() / 1e3)
      .text("cal_pressure_from", typed.at_calibration.pressure_from)
      .number("cal_vapour_pressure_kpa", reading.vapour_at_calibration.si() / 1e3)
      .json("assumed", quoted_list(typed.assumed))
      .json("warnings", quoted_list(doubts_about(typed, reading)))
      .text("caution", alarms::caution_short())
      .str();
}

} // namespace oxherd::daemon::cli
