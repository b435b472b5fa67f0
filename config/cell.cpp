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

constexpr QuantityRule drift_span{Dimension::ratio, 0.0, 0.2, "0 % to 20 %"};
constexpr QuantityRule linearity_span{Dimension::ratio, 0.0, 0.1, "0 % to 10 %"};
constexpr QuantityRule furnace_span{Dimension::temperature, 773.15, 1273.15, "500 °C to 1000 °C"};

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

CellSettings read_cell(TableReader in, const Site& site, Regime regime, SignalUnit unit) {
  const auto& rules = signal_rules(unit);
  CellSettings cell;
  in.require("model", "\"concentration\"");
  cell.cell.model = in.choice("model", cell_models).value_or(cell.cell.model);
  const auto zero = in.quantity("zero", rules.zero);
  cell.nominal_zero = {Signal::from_si(zero.value_or(0.0)), zero ? rules.u_stated_zero_si : rules.u_unknown_zero_si};
  if (const auto u = in.quantity("u_zero", rules.uncertainty)) cell.nominal_zero.u_si = *u;
  cell.serial = in.text("serial").value_or("");
  if (auto response = in.table("temperature_response")) cell.cell.response = read_response(*response);
  cell.dead_below = Signal::from_si(in.quantity("dead_below", rules.dead).value_or(rules.dead_below_si));
  cell.drift_per_month = in.quantity("drift_per_month", drift_span).value_or(cell.drift_per_month);
  if (const auto step = in.quantity("resolution", rules.step)) cell.resolution = Signal::from_si(*step);
  cell.linearity = in.quantity("linearity", linearity_span).value_or(cell.linearity);
  read_upkeep(in, regime, rules, cell);
  const bool nernst = cell.cell.model == CellModel::nernst;
  if (nernst) cell.cell.nernst = read_nernst(in, site);
  for (const std::string_view key : {"furnace", "u_furnace", "reference"})
    if (in.has(key) && !nernst) in.error(key, "belongs to a cell of model \"nernst\"");
  in.finish();
  return cell;
}

} // namespace oxherd::config
