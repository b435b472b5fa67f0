#include "daemon/cli/explain_options.hpp"

#include <array>

#include <fmt/core.h>

#include "compensation/cells/catalogue.hpp"
#include "daemon/cli/answer.hpp"

namespace oxherd::daemon::cli {
namespace {

using D = compensation::Dimension;

// 0.8 kPa for a pressure from elevation alone is the weather's share; it lives with the pressure, see read_pressure.
constexpr std::array values = std::to_array<ExplainValue>({
    {"signal", D::voltage, "VOLTAGE", "signal of the cell now", "11.9mV", "0.02 mV"},
    {"zero", D::voltage, "VOLTAGE", "signal of the cell without oxygen (default 0 mV)", "0.4mV", "0.05 mV", "0 mV",
     "0.3 mV"},
    {"temperature", D::temperature, "TEMPERATURE", "temperature of the gas at the cell", "54F", "0.3 K"},
    {"humidity", D::humidity, "PERCENT", "relative humidity over water", "88%", "3 %"},
    {"humidity-temperature", D::temperature, "TEMPERATURE", "temperature of the humidity probe, where it has its own",
     "12.4C", "0.3 K"},
    {"pressure", D::pressure, "PRESSURE", "station pressure, measured", "99.8kPa", "0.1 kPa"},
    {"elevation", D::length, "LENGTH",
     "height above sea level; alone, it gives the pressure of the standard atmosphere", "640m", "10 m"},
    {"sea-level-pressure", D::pressure, "PRESSURE", "pressure of a weather report (QNH); needs --elevation", "1013hPa",
     "0.2 kPa"},
    {"cal-signal", D::voltage, "VOLTAGE", "signal of the cell at calibration", "12.6mV", "0.02 mV"},
    {"cal-oxygen", D::ratio, "PERCENT", "oxygen of the calibration gas, dry basis (default 20.946%)", "20.946%",
     "0.006 %", "20.946 %", "0.006 %"},
    {"cal-temperature", D::temperature, "TEMPERATURE", "temperature of the gas at calibration", "21C", "0.3 K"},
    {"cal-humidity", D::humidity, "PERCENT", "relative humidity at calibration; 0% for gas from a cylinder", "45%",
     "3 %"},
    {"cal-humidity-temperature", D::temperature, "TEMPERATURE", "temperature of the humidity probe at calibration",
     "21C", "0.3 K"},
    {"cal-pressure", D::pressure, "PRESSURE", "station pressure at calibration, measured", "99.8kPa", "0.1 kPa"},
    {"cal-elevation", D::length, "LENGTH", "height above sea level of the place of calibration", "212m", "10 m"},
    {"cal-sea-level-pressure", D::pressure, "PRESSURE", "pressure of a weather report; needs --cal-elevation",
     "1013hPa", "0.2 kPa"},
    {"cal-low-signal", D::voltage, "VOLTAGE", "signal at the low point of a two-point calibration, in place of --zero",
     "0.6mV", "0.02 mV"},
    {"cal-low-oxygen", D::ratio, "PERCENT", "oxygen at the low point, dry basis", "1%", "0.006 %"},
    {"cal-low-temperature", D::temperature, "TEMPERATURE", "temperature at the low point (default: as at calibration)",
     "21C", "0.3 K"},
    {"cal-low-humidity", D::humidity, "PERCENT", "relative humidity at the low point (default 0%, gas from a cylinder)",
     "0%", "3 %", "0 %", "0 %"},
    {"cal-low-pressure", D::pressure, "PRESSURE", "station pressure at the low point (default: as at calibration)",
     "99.8kPa", "0.1 kPa"},
    {"furnace", D::temperature, "TEMPERATURE", "nernst: temperature of the cell (default 700 °C)", "700C", "2 K",
     "700 °C", "2 K"},
    {"reference-oxygen", D::ratio, "PERCENT", "nernst: oxygen of the reference air, dry basis (default 20.946%)",
     "20.946%", "0.006 %", "20.946 %", "0.006 %"},
    {"reference-temperature", D::temperature, "TEMPERATURE", "nernst: temperature of the reference air (default 20 °C)",
     "20C", "0.3 K", "20 °C", "5 K"},
    {"reference-humidity", D::humidity, "PERCENT", "nernst: relative humidity of the reference air (default 50%)",
     "50%", "3 %", "50 %", "25 %"},
    {"reference-pressure", D::pressure, "PRESSURE",
     "nernst: pressure held on the reference side (default: that of the gas)", "99.8kPa", "0.1 kPa"},
});

constexpr std::array of_stored = std::to_array<std::string_view>({"--room", "--sensor", "--at", "--state-dir"});

std::string models_text() {
  std::string out = "what the signal follows:";
  for (const auto* law : compensation::cells::catalogue())
    out += fmt::format("{} {}{}", law == compensation::cells::catalogue().front() ? "" : ",", law->name,
                       law->model == compensation::CellModel::concentration ? " (default)" : "");
  return out;
}

std::vector<std::string> model_names() {
  std::vector<std::string> out;
  for (const auto* law : compensation::cells::catalogue()) out.emplace_back(law->name);
  return out;
}

} // namespace

std::span<const ExplainValue> explain_values() { return values; }

D uncertainty_dimension(D dimension) { return dimension == D::temperature ? D::temperature_difference : dimension; }

std::span<const std::string_view> stored_options() { return of_stored; }

std::vector<Option> explain_options() {
  std::vector<Option> out{
      {"--room", "ROOM", "explain a recorded reading of this room; then no value is typed", "cryo-annexe"},
      {"--sensor", "SENSOR", "the sensor of the recorded reading", "cell-a"},
      {"--at", "TIME", "the last reading at or before it, RFC 3339 with offset (default: the last of all)",
       "2026-03-01T08:00:00+01:00"},
      state_dir_option(),
      {"--cell", "MODEL", models_text(), "concentration", true, model_names()}};
  for (const auto& value : values)
    out.push_back({fmt::format("--{}", value.name), std::string{value.word}, std::string{value.help},
                   std::string{value.example}});
  out.push_back({"--temperature-response", "A1,A2@T",
                 "g(t) = 1 + A1 (t - T) + A2 (t - T)^2, multiplies the sensitivity", "0.0025,-1e-5@20C"});
  out.push_back({"--resolution", "VOLTAGE", "step of the indicated signal", "0.01mV"});
  out.push_back({"--linearity", "PERCENT",
                 "standard uncertainty midway between the calibration points, in percent of the signal between them",
                 "0.3%"});
  out.push_back({"--cal-age", "DURATION", "time since the calibration: then drift counts", "40d"});
  out.push_back(
      {"--drift", "PERCENT", "sensitivity lost or gained in a month, at most; needs --cal-age (default 1%)", "1%"});
  for (const auto& value : values)
    out.push_back({fmt::format("--u-{}", value.name), std::string{value.word},
                   fmt::format("standard uncertainty of --{}", value.name), std::string{value.typed_u}, false});
  out.push_back({"--u-NAME", "VALUE",
                 "standard uncertainty of the value --NAME, for each of the above: --u-signal 0.03mV", "", true});
  out.push_back(json_option("print one line of JSON"));
  return out;
}

} // namespace oxherd::daemon::cli
