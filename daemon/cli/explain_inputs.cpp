#include "daemon/cli/explain_inputs.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/core.h>

#include "compensation/barometry.hpp"
#include "compensation/cells/catalogue.hpp"
#include "compensation/units.hpp"
#include "config/nearest.hpp"
#include "config/settings.hpp"
#include "daemon/cli/explain_options.hpp"
#include "daemon/cli/text.hpp"
#include "daemon/signal_errors.hpp"

namespace oxherd::daemon::cli {
namespace {

using compensation::CellModel;

/// Weather: the station pressure moves about the standard atmosphere's by about this much (standard uncertainty).
constexpr std::string_view weather_u = "0.8 kPa";

constexpr double age_s_max = 3.2e9; // a century

const ExplainValue& value_named(std::string_view name) {
  return *std::ranges::find(explain_values(), name, &ExplainValue::name);
}

/// Takes typed values one by one and remembers what is wrong and what had to be assumed.
class Reader {
public:
  explicit Reader(const Arguments& arguments) : arguments_{arguments} {}

  [[nodiscard]] bool given(std::string_view name) const { return arguments_.given(fmt::format("--{}", name)); }
  void problem(std::string text) { problems_.push_back(std::move(text)); }
  void missing(std::string_view name, std::string_view or_else = "") {
    const auto& value = value_named(name);
    problem(fmt::format("--{} is missing{}: {}, such as --{} {}", name, or_else, value.help, name, value.example));
  }
  void assume(std::string text) { assumed_.push_back(std::move(text)); }

  /// SI value of --NAME with its uncertainty, or what is assumed for it; a problem when nothing is.
  template <class Q> Uncertain<Q> value(std::string_view name) {
    const auto& row = value_named(name);
    const auto typed = arguments_.value(fmt::format("--{}", name));
    if (!typed && row.assumed.empty()) {
      missing(name);
      return {};
    }
    if (!typed) assume(fmt::format("{}: {}", name, row.assumed));
    const double si = parsed(fmt::format("--{}", name), typed ? *typed : std::string{row.assumed}, row.dimension);
    if (!typed) return {Q::from_si(si), uncertainty(name, row.assumed_u)};
    // Gas from a cylinder is typed as humidity 0: dry is dry.
    const bool bone_dry = row.dimension == compensation::Dimension::humidity && si == 0.0;
    return {Q::from_si(si), uncertainty(name, bone_dry ? "0 %" : row.typed_u)};
  }

  /// SI value of --u-NAME or what is assumed for it.
  double uncertainty(std::string_view name, std::string_view otherwise, std::string_view because = "") {
    const auto& row = value_named(name);
    const auto option = fmt::format("--u-{}", name);
    const auto typed = arguments_.value(option);
    if (!typed) assume(fmt::format("u of {}: {}{}", name, otherwise, because));
    const double u = parsed(option, typed.value_or(std::string{otherwise}), uncertainty_dimension(row.dimension));
    if (u < 0.0) problem(fmt::format("{}: a standard uncertainty cannot be negative", option));
    return u;
  }

  double parsed(const std::string& option, const std::string& text, compensation::Dimension dimension) {
    const auto si = compensation::parse_quantity(text, dimension);
    if (si) return *si;
    problem(fmt::format("{}: {}", option, si.error().message));
    return 0.0;
  }

  [[nodiscard]] const Arguments& arguments() const { return arguments_; }
  [[nodiscard]] std::vector<std::string>& problems() { return problems_; }
  [[nodiscard]] std::vector<std::string>& assumed() { return assumed_; }

private:
  const Arguments& arguments_;
  std::vector<std::string> problems_;
  std::vector<std::string> assumed_;
};

std::string named(std::string_view prefix, std::string_view name) { return fmt::format("{}{}", prefix, name); }

/// Slope of a pressure in one of its inputs, by a central difference over a step that is small for the atmosphere.
template <class F> double slope_of(F pressure_at, double x, double step) {
  const auto above = pressure_at(x + step);
  const auto below = pressure_at(x - step);
  return above && below ? (above->si() - below->si()) / (2.0 * step) : 0.0;
}

Uncertain<Pressure> from_elevation(Reader& reader, std::string_view prefix, Uncertain<Elevation> z) {
  const auto at = [](double z_m) { return compensation::standard_pressure(compensation::geopotential(metres(z_m))); };
  const auto p = at(z.value.si());
  if (!p) {
    reader.problem(fmt::format("--{}elevation: the standard atmosphere is used from -2000 m to 11000 m", prefix));
    return {};
  }
  const double weather = reader.uncertainty(named(prefix, "pressure"), weather_u, ", the weather's share");
  return {*p, std::hypot(weather, slope_of(at, z.value.si(), 1.0) * z.u_si)};
}

Uncertain<Pressure> from_sea_level(Reader& reader, std::string_view prefix, Uncertain<Elevation> z) {
  const auto qnh = reader.value<SeaLevelPressure>(named(prefix, "sea-level-pressure"));
  const auto at = [](double qnh_Pa, double z_m) {
    return compensation::station_pressure(SeaLevelPressure::from_si(qnh_Pa), compensation::geopotential(metres(z_m)));
  };
  const auto p = at(qnh.value.si(), z.value.si());
  if (!p) {
    reader.problem(fmt::format("--{0}sea-level-pressure with --{0}elevation gives no station pressure: is the report "
                               "really reduced to sea level?",
                               prefix));
    return {};
  }
  const double by_report = slope_of([&](double x) { return at(x, z.value.si()); }, qnh.value.si(), 1.0) * qnh.u_si;
  const double by_height = slope_of([&](double x) { return at(qnh.value.si(), x); }, z.value.si(), 1.0) * z.u_si;
  return {*p, std::hypot(by_report, by_height)};
}

/// Station pressure by the best of what was typed: measured, from a report, or from the elevation alone.
void read_pressure(Reader& reader, std::string_view prefix, PlacedGas& gas) {
  const bool measured = reader.given(named(prefix, "pressure"));
  const bool report = reader.given(named(prefix, "sea-level-pressure"));
  const bool elevation = reader.given(named(prefix, "elevation"));
  if (measured && report)
    return reader.problem(fmt::format("--{0}pressure and --{0}sea-level-pressure exclude each other", prefix));
  if (report && !elevation) return reader.missing(named(prefix, "elevation"));
  if (!measured && !elevation)
    return reader.missing(named(prefix, "pressure"), fmt::format(" (or --{}elevation)", prefix));
  if (measured) {
    gas.gas.pressure = reader.value<Pressure>(named(prefix, "pressure"));
    gas.pressure_measured = true;
    gas.pressure_from = "measured";
    if (!elevation) return;
    const auto typed = reader.arguments().value(fmt::format("--{}elevation", prefix));
    gas.elevation =
        metres(reader.parsed(fmt::format("--{}elevation", prefix), *typed, compensation::Dimension::length));
    return;
  }
  const auto z = reader.value<Elevation>(named(prefix, "elevation"));
  gas.elevation = z.value;
  const auto height = short_number(z.value.si(), 6);
  gas.gas.pressure = report ? from_sea_level(reader, prefix, z) : from_elevation(reader, prefix, z);
  gas.pressure_from = report ? fmt::format("report reduced to sea level, at {} m", height)
                             : fmt::format("standard atmosphere (ISO 2533) at {} m", height);
}

PlacedGas read_gas(Reader& reader, std::string_view prefix) {
  PlacedGas out;
  out.gas.temperature = reader.value<Temperature>(named(prefix, "temperature"));
  out.gas.humidity = reader.value<RelativeHumidity>(named(prefix, "humidity"));
  if (reader.given(named(prefix, "humidity-temperature")))
    out.gas.humidity_temperature = reader.value<Temperature>(named(prefix, "humidity-temperature"));
  read_pressure(reader, prefix, out);
  return out;
}

/// The second point of a calibration; what was not typed for it is as at the first.
compensation::CalibrationPoint read_low_point(Reader& reader, const compensation::GasConditions& span) {
  compensation::CalibrationPoint low;
  low.signal = reader.value<Signal>("cal-low-signal");
  low.oxygen = reader.value<DryFraction>("cal-low-oxygen");
  low.gas.temperature =
      reader.given("cal-low-temperature") ? reader.value<Temperature>("cal-low-temperature") : span.temperature;
  low.gas.humidity = reader.value<RelativeHumidity>("cal-low-humidity");
  low.gas.pressure = reader.given("cal-low-pressure") ? reader.value<Pressure>("cal-low-pressure") : span.pressure;
  return low;
}

bool any_given(const Reader& reader, std::string_view prefix) {
  return std::ranges::any_of(explain_values(), [&](const ExplainValue& value) {
    return value.name.starts_with(prefix) &&
           (reader.given(value.name) || reader.given(fmt::format("u-{}", value.name)));
  });
}

void read_calibration(Reader& reader, Explanation& out) {
  auto& calibration = out.calibration.emplace();
  calibration.span.signal = reader.value<Signal>("cal-signal");
  calibration.span.oxygen = reader.value<DryFraction>("cal-oxygen");
  out.at_calibration = read_gas(reader, "cal-");
  calibration.span.gas = out.at_calibration.gas;
  const bool two_points = any_given(reader, "cal-low-");
  const bool has_zero = compensation::cells::law_of(out.cell->model).uses_zero;
  if (reader.given("zero") && two_points)
    reader.problem("--zero and --cal-low-signal exclude each other: both are the low point");
  if (reader.given("zero") && !has_zero)
    reader.problem("--zero: the voltage of a nernst cell has no zero; a second point is given by --cal-low-...");
  if (two_points)
    calibration.low = read_low_point(reader, calibration.span.gas);
  else if (has_zero)
    calibration.zero = reader.value<Signal>("zero");
}

/// The furnace and the reference side. Without a pressure of its own the reference side breathes with the room, so it
/// stood under the pressure of the calibration at calibration and stands under the present one now.
void read_nernst(Reader& reader, Explanation& out) {
  compensation::NernstCell parts;
  parts.furnace = reader.value<Temperature>("furnace");
  parts.reference_oxygen = reader.value<DryFraction>("reference-oxygen");
  parts.reference_air.temperature = reader.value<Temperature>("reference-temperature");
  parts.reference_air.humidity = reader.value<RelativeHumidity>("reference-humidity");
  if (reader.given("reference-pressure")) {
    parts.reference_air.pressure = reader.value<Pressure>("reference-pressure");
  } else {
    reader.assume("pressure of the reference air: that of the gas, now and at calibration");
    parts.reference_air.pressure = out.now.gas.pressure;
    auto then = parts.reference_air;
    then.pressure = out.at_calibration.gas.pressure;
    out.calibration->span.reference_air = then;
    if (out.calibration->low) out.calibration->low->reference_air = then;
  }
  out.cell->nernst = parts;
}

std::vector<std::string_view> pieces_of(std::string_view text, char separator) {
  std::vector<std::string_view> out;
  for (;;) {
    const auto end = text.find(separator);
    out.push_back(text.substr(0, end));
    if (end == std::string_view::npos) return out;
    text.remove_prefix(end + 1);
  }
}

/// "A1,A2@T".
void read_response(Reader& reader, compensation::TemperatureResponse& out) {
  const auto typed = reader.arguments().value("--temperature-response");
  if (!typed) return;
  const auto parts = pieces_of(*typed, '@');
  if (parts.size() != 2)
    return reader.problem(
        "--temperature-response: write the coefficients per kelvin and the temperature they count from, "
        "such as \"0.0025,-1e-5@20C\"");
  out.reference = Temperature::from_si(
      reader.parsed("--temperature-response", std::string{parts[1]}, compensation::Dimension::temperature));
  for (const auto piece : pieces_of(parts[0], ','))
    out.coefficients.push_back(
        reader.parsed("--temperature-response", std::string{piece}, compensation::Dimension::number));
}

void read_model(Reader& reader, compensation::Cell& cell) {
  const auto typed = reader.arguments().value_or("--cell", "concentration");
  if (const auto* law = compensation::cells::find(typed)) {
    cell.model = law->model;
    return;
  }
  std::vector<std::string> names;
  for (const auto* law : compensation::cells::catalogue()) names.emplace_back(law->name);
  reader.problem(fmt::format("--cell: there is no model \"{}\"; it is {}", printable(typed),
                             config::listed_nearest_first(typed, names)));
}

/// A non-negative value of an option that has no uncertainty of its own.
std::optional<double> plain_value(Reader& reader, const std::string& option, compensation::Dimension dimension) {
  const auto typed = reader.arguments().value(option);
  if (!typed) return std::nullopt;
  const double si = reader.parsed(option, *typed, dimension);
  if (si < 0.0) reader.problem(fmt::format("{}: it cannot be negative", option));
  return si;
}

/// What the signal may be wrong by beside its own uncertainty, counted as the daemon counts it.
void read_errors(Reader& reader, Explanation& out) {
  using compensation::Dimension;
  config::CellSettings cell;
  cell.resolution = Signal::from_si(plain_value(reader, "--resolution", Dimension::voltage).value_or(0.0));
  cell.linearity = plain_value(reader, "--linearity", Dimension::ratio).value_or(0.0);
  out.calibration_age_s = plain_value(reader, "--cal-age", Dimension::duration);
  const auto drift = plain_value(reader, "--drift", Dimension::ratio);
  if (drift && !out.calibration_age_s)
    return reader.problem("--drift needs --cal-age: it counts from the calibration on");
  if (out.calibration_age_s && *out.calibration_age_s > age_s_max)
    return reader.problem("--cal-age: no cell lives that long");
  if (out.calibration_age_s) {
    if (!drift)
      reader.assume(
          fmt::format("drift: {} % per month since the calibration", short_number(cell.drift_per_month * 100.0, 4)));
    cell.drift_per_month = drift.value_or(cell.drift_per_month);
    out.drift_per_month = cell.drift_per_month;
  }
  const std::chrono::milliseconds age{std::llround(out.calibration_age_s.value_or(0.0) * 1e3)};
  out.errors = signal_errors(cell, age);
}

/// An uncertainty typed for a value that was not typed would be ignored: say so instead.
void refuse_idle_uncertainties(Reader& reader) {
  for (const auto& value : explain_values()) {
    if (!reader.given(fmt::format("u-{}", value.name)) || reader.given(value.name) || !value.assumed.empty()) continue;
    // The uncertainty of a station pressure that comes from the elevation may be typed as that of the pressure.
    const bool pressure = value.name.ends_with("pressure") && !value.name.ends_with("sea-level-pressure");
    const auto prefix = value.name.substr(0, value.name.size() - std::min<std::size_t>(value.name.size(), 8));
    if (pressure && reader.given(fmt::format("{}elevation", prefix)) &&
        !reader.given(fmt::format("{}sea-level-pressure", prefix)))
      continue;
    reader.problem(fmt::format("--u-{0} is given without --{0}", value.name));
  }
}

} // namespace

tl::expected<Explanation, std::vector<std::string>> read_typed_case(const Arguments& arguments) {
  Reader reader{arguments};
  Explanation out;
  read_model(reader, out.cell.emplace());
  out.signal = reader.value<Signal>("signal");
  out.now = read_gas(reader, "");
  const bool nernst = out.cell->model == CellModel::nernst;
  if (!nernst && (any_given(reader, "reference-") || any_given(reader, "furnace")))
    reader.problem("--furnace and --reference-... belong to --cell nernst");
  read_calibration(reader, out);
  if (nernst) read_nernst(reader, out);
  read_response(reader, out.cell->response);
  read_errors(reader, out);
  refuse_idle_uncertainties(reader);
  if (!reader.problems().empty()) return tl::unexpected(std::move(reader.problems()));
  out.assumed = std::move(reader.assumed());
  return out;
}

} // namespace oxherd::daemon::cli
