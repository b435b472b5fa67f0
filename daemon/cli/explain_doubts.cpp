#include <algorithm>
#include <cmath>

#include <fmt/core.h>

#include "compensation/barometry.hpp"
#include "daemon/calibration/judgement.hpp"
#include "daemon/cli/explanation.hpp"
#include "daemon/cli/text.hpp"

namespace oxherd::daemon::cli {
namespace {

constexpr double far_K = 15.0;       // beyond it the temperature response of the cell, unless given, decides
constexpr double far_pressure = 0.1; // relative
constexpr double beyond_span = 0.2;  // of the span: out there a bent line departs as far as it does midway
constexpr double day_s = 86400.0;
constexpr double hill_m = 150.0; // below it a sea-level value and a station value cannot be told apart

double celsius_of(Temperature t) { return t.si() - 273.15; }

void doubt_gas(const PlacedGas& gas, std::string_view when, std::string_view prefix, std::vector<std::string>& out) {
  const double t_C = celsius_of(gas.gas.temperature.value);
  const double h = gas.gas.humidity.value.si();
  if (h > condensing_humidity)
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

void doubt_distance(const Explanation& explained, std::vector<std::string>& out) {
  const auto& now = explained.now.gas;
  const auto& then = explained.at_calibration.gas;
  const double apart_K = std::abs(now.temperature.value.si() - then.temperature.value.si());
  const bool unknown_response = explained.cell->response.coefficients.empty() && !explained.cell->nernst;
  if (apart_K > far_K)
    out.push_back(fmt::format("far from calibration: {:.0f} K apart{}", apart_K,
                              unknown_response ? "; the cell's own temperature response was not given" : ""));
  const double ratio = now.pressure.value.si() / then.pressure.value.si();
  if (std::abs(ratio - 1.0) > far_pressure)
    out.push_back(fmt::format("far from calibration: the pressure is {:.0f} % of that at calibration", ratio * 100.0));
}

void doubt_value(const compensation::OxygenReading& reading, std::vector<std::string>& out) {
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
}

/// A straight line between two points says little far outside them.
void doubt_span(const Explanation& explained, std::vector<std::string>& out) {
  const auto& calibration = *explained.calibration;
  if (explained.cell->nernst && !calibration.low) return; // its law has no straight line between oxygen and signal
  const double high = calibration.span.oxygen.value.si();
  const double low = calibration.low ? calibration.low->oxygen.value.si() : 0.0;
  const double part = (explained.reading->dry.si() - low) / (high - low);
  if (part >= -beyond_span && part <= 1.0 + beyond_span) return;
  out.push_back(fmt::format("outside the cell's span: it was calibrated from {} % to {} % oxygen and reads {:.2f} %; "
                            "how straight the cell is out there, nothing shows",
                            short_number(std::min(low, high) * 100.0, 5), short_number(std::max(low, high) * 100.0, 5),
                            explained.reading->dry.si() * 100.0));
}

void doubt_age(const Explanation& explained, std::vector<std::string>& out) {
  if (!explained.calibration_age_s) return;
  const double age_d = *explained.calibration_age_s / day_s;
  const auto due = explained.calibrate_every;
  if (age_d < 0.0)
    out.push_back("the calibration lies after the reading: which of the two clocks was wrong?");
  else if (due && age_d > static_cast<double>(due->count()))
    out.push_back(fmt::format("stale calibration: {:.0f} days old, the cell was due after {} days", std::floor(age_d),
                              due->count()));
}

} // namespace

std::vector<std::string> doubts_about(const Explanation& explained) {
  std::vector<std::string> out;
  if (explained.reading) doubt_value(*explained.reading, out);
  doubt_age(explained, out);
  if (explained.cell && explained.calibration) {
    if (explained.reading) doubt_span(explained, out);
    doubt_distance(explained, out);
    doubt_gas(explained.at_calibration, "at calibration", "cal-", out);
  }
  doubt_gas(explained.now, "now", "", out);
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
