#include <algorithm>
#include <cmath>

#include <fmt/core.h>

#include "compensation/barometry.hpp"
#include "daemon/cli/explain_report.hpp"

namespace oxherd::daemon::cli {
namespace {

constexpr double far_K = 15.0;       // beyond it the temperature response of the cell, unless given, decides
constexpr double far_pressure = 0.1; // relative
constexpr double condensing = 0.97;  // relative humidity; a film of water on the membrane holds oxygen back
constexpr double hill_m = 150.0;     // below it a sea-level value and a station value cannot be told apart

double celsius_of(Temperature t) { return t.si() - 273.15; }

void doubt_gas(const TypedGas& gas, std::string_view when, std::string_view prefix, std::vector<std::string>& out) {
  const double t_C = celsius_of(gas.gas.temperature.value);
  const double h = gas.gas.humidity.value.si();
  if (h > condensing)
    out.push_back(fmt::format("{}: humidity {:.0f} % can condense on the membrane; a wet cell reads low and slowly",
                              when, h * 100.0));
  if (t_C < 0.0)
    out.push_back(fmt::format(
        "{}: {:.1f} °C is below freezing; humidity is taken over water, not ice, and the cell is slow", when, t_C));
  if (!gas.elevation || !gas.pressure_measured || gas.elevation->si() < hill_m) return;
  const auto here = compensation::standard_pressure(compensation::geopotential(*gas.elevation));
  if (!here) return;
  const double p_Pa = gas.gas.pressure.value.si();
  if (std::abs(p_Pa - 101325.0) < std::abs(p_Pa - here->si()))
    out.push_back(
        fmt::format("{}: {:.2f} kPa looks like a pressure reduced to sea level; at {:.0f} m expect about {:.1f} "
                    "kPa. If it comes from a weather report, give it as --{}sea-level-pressure",
                    when, p_Pa / 1e3, gas.elevation->si(), here->si() / 1e3, prefix));
}

void doubt_distance(const ExplainCase& typed, std::vector<std::string>& out) {
  const auto& now = typed.now.gas;
  const auto& then = typed.at_calibration.gas;
  const double apart_K = std::abs(now.temperature.value.si() - then.temperature.value.si());
  const bool unknown_response = typed.cell.response.coefficients.empty() && !typed.cell.nernst;
  if (apart_K > far_K)
    out.push_back(fmt::format("far from calibration: {:.0f} K apart{}", apart_K,
                              unknown_response ? "; the cell's own temperature response was not given" : ""));
  const double ratio = now.pressure.value.si() / then.pressure.value.si();
  if (std::abs(ratio - 1.0) > far_pressure)
    out.push_back(fmt::format("far from calibration: the pressure is {:.0f} % of that at calibration", ratio * 100.0));
}

} // namespace

std::vector<std::string> doubts_about(const ExplainCase& typed, const compensation::OxygenReading& reading) {
  std::vector<std::string> out;
  const double dry = reading.dry.si();
  if (dry < 0.0)
    out.push_back(
        fmt::format("the reading is below zero ({:.2f} %): the zero signal does not fit this cell, or its wires "
                    "are swapped",
                    dry * 100.0));
  if (dry > 0.25)
    out.push_back(
        fmt::format("the reading is above 25 % ({:.2f} %): where nothing supplies oxygen the calibration or an "
                    "input is wrong",
                    dry * 100.0));
  doubt_distance(typed, out);
  doubt_gas(typed.at_calibration, "at calibration", "cal-", out);
  doubt_gas(typed.now, "now", "", out);
  return out;
}

std::vector<BudgetLine> sorted_budget(const compensation::OxygenReading& reading) {
  double variance = 0.0;
  for (const double contribution : reading.budget) variance += contribution * contribution;
  std::vector<BudgetLine> out;
  for (std::size_t i = 0; i < reading.budget.size(); ++i) {
    const double contribution = reading.budget[i];
    if (contribution > 0.0)
      out.push_back({static_cast<compensation::Input>(i), contribution, contribution * contribution / variance});
  }
  std::ranges::stable_sort(out, std::ranges::greater{}, &BudgetLine::contribution);
  return out;
}

} // namespace oxherd::daemon::cli
