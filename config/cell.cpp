#include <array>

#include <fmt/core.h>

#include "compensation/barometry.hpp"
#include "config/rules.hpp"
#include "config/sections.hpp"

namespace oxherd::config {
namespace {

using compensation::CellModel;
using compensation::Dimension;

constexpr std::array<Choice<CellModel>, 4> cell_models{{{"concentration", CellModel::concentration},
                                                        {"partial-pressure", CellModel::partial_pressure},
                                                        {"mole-fraction", CellModel::mole_fraction},
                                                        {"nernst", CellModel::nernst}}};

constexpr QuantityRule zero_signal_span{Dimension::voltage, -0.1, 0.1, "-100 mV to 100 mV"};
constexpr QuantityRule dead_span{Dimension::voltage, 0.0, 0.01, "0 mV to 10 mV"};
constexpr QuantityRule drift_span{Dimension::ratio, 0.0, 0.2, "0 % to 20 %"};
constexpr QuantityRule step_span{Dimension::voltage, 0.0, 0.01, "0 mV to 10 mV"};
constexpr QuantityRule linearity_span{Dimension::ratio, 0.0, 0.1, "0 % to 10 %"};
constexpr QuantityRule furnace_span{Dimension::temperature, 773.15, 1273.15, "500 °C to 1000 °C"};

// Proposals of the project. A zero from the data sheet holds for the kind of cell, not for this one; a zero nobody
// states is somewhere in the 0.1 mV to 0.5 mV that cells leave in nitrogen (common practice).
constexpr double u_stated_zero_V = 0.05e-3;
constexpr double u_unknown_zero_V = 0.3e-3;
constexpr std::size_t coefficients_max = 6;

compensation::TemperatureResponse read_response(TableReader in) {
  compensation::TemperatureResponse response;
  in.require("coefficients", "[0.002]");
  if (const auto t = in.quantity("reference", gas_temperature)) response.reference = kelvins(*t);
  response.coefficients = in.numbers("coefficients");
  if (response.coefficients.size() > coefficients_max)
    in.error("coefficients",
             fmt::format("more than {} coefficients; such a polynomial swings outside its points", coefficients_max));
  in.finish();
  return response;
}

/// The reference side of a zirconia cell is ordinary air of the site unless the file knows better.
compensation::NernstCell read_nernst(TableReader& in, const Site& site) {
  compensation::NernstCell nernst;
  if (const auto t = in.quantity("furnace", furnace_span)) nernst.furnace.value = kelvins(*t);
  if (const auto u = in.quantity("u_furnace", temperature_uncertainty)) nernst.furnace.u_si = *u;
  auto& air = nernst.reference_air;
  air.temperature = {celsius(20.0), 5.0};        // proposal of the project: indoor air, nobody measured it
  air.humidity = {percent_humidity(50.0), 0.25}; // likewise: anything from dry to saturated
  const auto normal = compensation::standard_pressure(compensation::geopotential(site.elevation));
  air.pressure = {normal.value_or(pascals(101325.0)), 800.0}; // ISO 2533 and the weather of mid latitudes
  if (auto given = in.table("reference")) {
    if (const auto t = given->quantity("temperature", gas_temperature)) air.temperature.value = kelvins(*t);
    if (const auto h = given->quantity("humidity", gas_humidity)) air.humidity.value = RelativeHumidity::from_si(*h);
    if (const auto p = given->quantity("pressure", station_air_pressure)) air.pressure = {pascals(*p), 50.0};
    if (const auto x = given->quantity("oxygen", gas_fraction))
      nernst.reference_oxygen.value = DryFraction::from_si(*x);
    given->finish();
  }
  return nernst;
}

} // namespace

CellSettings read_cell(TableReader in, const Site& site, Regime regime) {
  CellSettings cell;
  in.require("model", "\"concentration\"");
  cell.cell.model = in.choice("model", cell_models).value_or(cell.cell.model);
  const auto zero = in.quantity("zero", zero_signal_span);
  cell.nominal_zero = {Signal::from_si(zero.value_or(0.0)), zero ? u_stated_zero_V : u_unknown_zero_V};
  if (const auto u = in.quantity("u_zero", signal_uncertainty)) cell.nominal_zero.u_si = *u;
  cell.serial = in.text("serial").value_or("");
  if (auto response = in.table("temperature_response")) cell.cell.response = read_response(*response);
  if (const auto dead = in.quantity("dead_below", dead_span)) cell.dead_below = Signal::from_si(*dead);
  cell.drift_per_month = in.quantity("drift_per_month", drift_span).value_or(cell.drift_per_month);
  if (const auto step = in.quantity("resolution", step_span)) cell.resolution = Signal::from_si(*step);
  cell.linearity = in.quantity("linearity", linearity_span).value_or(cell.linearity);
  read_upkeep(in, regime, cell);
  const bool nernst = cell.cell.model == CellModel::nernst;
  if (nernst) cell.cell.nernst = read_nernst(in, site);
  for (const std::string_view key : {"furnace", "u_furnace", "reference"})
    if (in.has(key) && !nernst) in.error(key, "belongs to a cell of model \"nernst\"");
  in.finish();
  return cell;
}

} // namespace oxherd::config
