#include <cmath>
#include <string>

#include <fmt/core.h>

#include "compensation/barometry.hpp"
#include "compensation/constants.hpp"
#include "compensation/oxygen_reading.hpp"
#include "config/rules.hpp"
#include "config/sections.hpp"
#include "config/time_stamp.hpp"

namespace oxherd::config {
namespace {

using compensation::CalibrationPoint;
using compensation::CellModel;

// Standard uncertainties where the file states none; proposals of the project unless a source is named.
constexpr double u_temperature_K = 0.3;    // a hand-held thermometer of class A, in air that has settled
constexpr double u_humidity_ratio = 0.03;  // an electronic hygrometer, common practice
constexpr double u_dry_ratio = 0.001;      // cylinder gas: dew point below -30 °C, common practice
constexpr double u_measured_Pa = 50.0;     // a barometer that was itself calibrated
constexpr double u_elevation_Pa = 800.0;   // 8 hPa of weather around the ISO 2533 pressure of a height
constexpr double u_report_Pa = 100.0;      // a QNH, given in whole hectopascal for a place some way off
constexpr double u_fresh_air_ratio = 6e-5; // 0.006 %: outdoor air through day, season and town
constexpr double u_bottled_ratio = 2e-4;   // 0.02 %: a span gas with a certificate, common practice

/// The station pressure, from whichever of three statements the file makes.
std::optional<Uncertain<Pressure>> read_air_pressure(TableReader& in, const Site& site) {
  const bool measured = in.has("pressure");
  const bool reported = in.has("sea_level_pressure");
  const bool height = in.has("elevation");
  if (!measured && !reported && !height) {
    in.error("pressure", "missing; write for example pressure = \"99.8 kPa\" (read at the place), or elevation = \"212 "
                         "m\", or sea_level_pressure = \"1013 hPa\" (from a weather report)");
    return std::nullopt;
  }
  if (measured && (reported || height)) {
    in.error(reported ? "sea_level_pressure" : "elevation", "pressure is given as well; one of the two must go");
    return std::nullopt;
  }
  if (measured) {
    const auto p = in.quantity("pressure", station_air_pressure);
    if (!p) return std::nullopt;
    return Uncertain<Pressure>{pascals(*p), u_measured_Pa};
  }
  Elevation at = site.elevation;
  if (height) {
    const auto given = in.quantity("elevation", site_elevation);
    if (!given) return std::nullopt;
    at = metres(*given);
  }
  const auto altitude = compensation::geopotential(at);
  if (!reported) {
    const auto p = compensation::standard_pressure(altitude);
    if (p) return Uncertain<Pressure>{*p, u_elevation_Pa};
    in.error("elevation", "is outside the standard atmosphere");
    return std::nullopt;
  }
  const auto qnh = in.quantity("sea_level_pressure", reported_air_pressure);
  if (!qnh) return std::nullopt;
  const auto p = compensation::station_pressure(SeaLevelPressure::from_si(*qnh), altitude);
  if (p) return Uncertain<Pressure>{*p, u_report_Pa};
  in.error("sea_level_pressure", "is outside the standard atmosphere");
  return std::nullopt;
}

/// A weather report's pressure typed as the station's own is the commonest slip: it makes a lasting offset.
void doubt_sea_level_report(TableReader& in, const Site& site, Pressure p) {
  if (!in.has("pressure") || site.elevation.si() <= 150.0) return;
  const auto normal = compensation::standard_pressure(compensation::geopotential(site.elevation));
  if (!normal || std::abs(p.si() - 101325.0) >= std::abs(p.si() - normal->si())) return;
  in.warning("pressure", fmt::format("looks like a report reduced to sea level: at {:.0f} m the air has about {:.1f} "
                                     "kPa; if so, write it as sea_level_pressure",
                                     site.elevation.si(), normal->si() / 1e3));
}

/// What span and low point have in common; `point` comes with the values that hold where the file is silent.
void read_gas(TableReader& in, const SignalRules& rules, CalibrationPoint& point) {
  if (const auto s = in.quantity("signal", rules.signal)) point.signal = {Signal::from_si(*s), rules.u_signal_si};
  if (const auto x = in.quantity("oxygen", gas_fraction)) point.oxygen = {DryFraction::from_si(*x), u_bottled_ratio};
  if (const auto t = in.quantity("temperature", gas_temperature))
    point.gas.temperature = {kelvins(*t), u_temperature_K};
  if (const auto h = in.quantity("humidity", gas_humidity))
    point.gas.humidity = {RelativeHumidity::from_si(*h), *h == 0.0 ? u_dry_ratio : u_humidity_ratio};
  if (const auto t = in.quantity("humidity_temperature", gas_temperature))
    point.gas.humidity_temperature = Uncertain<Temperature>{kelvins(*t), u_temperature_K};
}

void read_stated_uncertainties(TableReader& in, const SignalRules& rules, CalibrationPoint& point) {
  if (const auto u = in.quantity("u_signal", rules.uncertainty)) point.signal.u_si = *u;
  if (const auto u = in.quantity("u_oxygen", fraction_uncertainty)) point.oxygen.u_si = *u;
  if (const auto u = in.quantity("u_temperature", temperature_uncertainty)) point.gas.temperature.u_si = *u;
  if (const auto u = in.quantity("u_humidity", humidity_uncertainty)) point.gas.humidity.u_si = *u;
  if (const auto u = in.quantity("u_pressure", pressure_uncertainty)) point.gas.pressure.u_si = *u;
  const auto u = in.quantity("u_humidity_temperature", temperature_uncertainty);
  if (!u) return;
  if (point.gas.humidity_temperature)
    point.gas.humidity_temperature->u_si = *u;
  else
    in.error("u_humidity_temperature", "there is no humidity_temperature that it could belong to");
}

/// The second point. Cylinder gas is dry, and it is given minutes after the first point, in the same air.
CalibrationPoint read_low(TableReader in, const CalibrationPoint& span, const Site& site, const SignalRules& rules) {
  CalibrationPoint low;
  low.gas = span.gas;
  low.gas.humidity = {percent_humidity(0.0), u_dry_ratio};
  low.gas.humidity_temperature.reset();
  in.require("signal", rules.low_example);
  in.require("oxygen", "\"1 %\"");
  read_gas(in, rules, low);
  if (in.has("pressure") || in.has("elevation") || in.has("sea_level_pressure"))
    if (const auto p = read_air_pressure(in, site)) low.gas.pressure = *p;
  read_stated_uncertainties(in, rules, low);
  in.finish();
  return low;
}

/// A calibration must leave something to divide by; a zirconia cell's law needs no span between the two.
void check_span(TableReader& in, const CalibrationSettings& settings, const CellSettings& cell,
                const SignalRules& rules) {
  if (cell.cell.model == CellModel::nernst) return;
  const auto& calibration = settings.calibration;
  const bool two_points = calibration.low.has_value();
  const double low_si = two_points ? calibration.low->signal.value.si() : calibration.zero.value.si();
  if (calibration.span.signal.value.si() <= low_si)
    in.error("signal", fmt::format("{} is not above the {} of {}", rules.shown(calibration.span.signal.value.si()),
                                   two_points ? "signal of the low point" : "zero", rules.shown(low_si)));
  if (calibration.span.oxygen.value.si() <= (two_points ? calibration.low->oxygen.value.si() : 0.0))
    in.error("oxygen", two_points ? "is not above that of the low point" : "0 % cannot be the span; that is the zero");
}

/// The last word is that of the equations: the calibration must give a reading in its own gas.
void check_usable(TableReader& in, const CalibrationSettings& settings, const CellSettings& cell) {
  if (in.problems().has_error_under(in.path())) return; // what is wrong is said already
  const auto& span = settings.calibration.span;
  const auto reading = compensation::read_oxygen(cell.cell, settings.calibration, span.signal, span.gas);
  if (!reading) in.error("", fmt::format("gives no reading: {}", reading.error().what));
}

std::optional<WallInstant> read_at(TableReader& in) {
  const Node* node = in.node("at");
  if (node == nullptr) return std::nullopt;
  std::optional<WallInstant> at;
  if (const auto* moment = std::get_if<Moment>(&node->value)) at = moment->utc;
  if (const auto* text = std::get_if<std::string>(&node->value)) at = instant_of(*text);
  const bool no_offset = std::holds_alternative<Moment>(node->value);
  if (!at)
    in.error("at", fmt::format("{}; write a date and time with its offset from UTC, such as 2026-05-04T09:30:00+02:00",
                               no_offset ? std::string{"this names no instant"} : shown(*node) + " is not understood"));
  return at;
}

} // namespace

CalibrationSettings read_calibration(TableReader in, const Site& site, const CellSettings& cell, SignalUnit unit) {
  const auto& rules = signal_rules(unit);
  CalibrationSettings settings;
  auto& calibration = settings.calibration;
  in.require("signal", rules.span_example);
  in.require("temperature", "\"21 °C\"");
  in.require("humidity", "\"45 %\"");
  calibration.span.oxygen = {DryFraction::from_si(compensation::fresh_air_oxygen), u_fresh_air_ratio};
  read_gas(in, rules, calibration.span);
  if (const auto p = read_air_pressure(in, site)) {
    calibration.span.gas.pressure = *p;
    doubt_sea_level_report(in, site, p->value);
  }
  read_stated_uncertainties(in, rules, calibration.span);

  calibration.zero = cell.nominal_zero;
  const auto measured_zero = in.quantity("zero_signal", rules.signal);
  if (measured_zero) calibration.zero = {Signal::from_si(*measured_zero), rules.u_signal_si};
  if (const auto u = in.quantity("u_zero", rules.uncertainty)) calibration.zero.u_si = *u;
  if (auto low = in.table("low")) {
    calibration.low = read_low(*low, calibration.span, site, rules);
    if (in.has("zero_signal")) in.error("zero_signal", "the low point stands in its place; one of the two must go");
  }
  settings.at = read_at(in);
  settings.by = in.text("by").value_or("");
  if (!in.problems().has_error_under(in.path())) check_span(in, settings, cell, rules);
  check_usable(in, settings, cell);
  in.finish();
  return settings;
}

} // namespace oxherd::config
