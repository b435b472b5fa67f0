#include "daemon/cli/calibrate_inputs.hpp"

#include <fmt/core.h>

#include "compensation/units.hpp"
#include "daemon/cli/answer.hpp"
#include "daemon/cli/login.hpp"
#include "daemon/cli/text.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon::cli {
namespace {

using compensation::Dimension;
using nlohmann::json;

/// Standard uncertainties of typed values, where none is typed: proposals of the project for careful work with
/// ordinary instruments, the same as `oxherd explain` takes.
constexpr double typed_u_temperature_K = 0.3, typed_u_humidity = 0.03, typed_u_pressure_Pa = 100.0,
                 typed_u_signal_V = 0.02e-3;
/// Of a cylinder whose certificate gives none: 1 % of the value.
constexpr double relative_u_gas = 0.01;

class CalibrateReader {
public:
  explicit CalibrateReader(const Arguments& arguments) : arguments_{arguments} {}

  std::optional<double> si(std::string_view option, Dimension dimension) {
    const auto typed = arguments_.value(option);
    if (!typed) return std::nullopt;
    const auto value = compensation::parse_quantity(*typed, dimension);
    if (!value) problem(fmt::format("{}: {}", option, value.error().message));
    return value ? std::optional{*value} : std::nullopt;
  }
  /// [value, u] under this key, when it was typed.
  void pair(json& step, const char* key, std::string_view option, Dimension dimension, Dimension u_dimension,
            double otherwise) {
    const auto value = si(option, dimension);
    if (!value) return;
    const auto u = si(fmt::format("--u-{}", option.substr(2)), u_dimension);
    step[key] = {*value, u.value_or(otherwise)};
  }
  void text(json& step, const char* key, std::string_view option) {
    if (const auto typed = arguments_.value(option)) step[key] = *typed;
  }
  void time(json& step, const char* key, std::string_view option) {
    const auto typed = arguments_.value(option);
    if (!typed) return;
    // A certificate names a day; it is good until its end.
    const auto words = typed->size() == 10 ? *typed + "T23:59:59Z" : *typed;
    const auto time = parse_rfc3339(words);
    if (!time)
      problem(fmt::format("{}: \"{}\" is neither a day such as 2026-09-30 nor a time such as 2026-03-01T08:00:00+01:00",
                          option, printable(*typed)));
    else
      step[key] = rfc3339(*time);
  }
  std::optional<std::int64_t> number(std::string_view option) {
    const auto typed = arguments_.value(option);
    if (!typed) return std::nullopt;
    const auto n = whole_number(*typed);
    if (!n || *n < 1)
      problem(fmt::format("{}: \"{}\" is not the number of a record; `oxherd calibrations` lists them", option,
                          printable(*typed)));
    return n;
  }
  void problem(std::string text) { problems.push_back(std::move(text)); }
  std::vector<std::string> problems;

private:
  const Arguments& arguments_;
};

/// Conditions typed for every gas; the daemon takes cylinder gas as dry.
void read_conditions(CalibrateReader& reader, json& step, bool cylinder) {
  reader.pair(step, "temperature", "--temperature", Dimension::temperature, Dimension::temperature_difference,
              typed_u_temperature_K);
  reader.pair(step, "pressure", "--pressure", Dimension::pressure, Dimension::pressure, typed_u_pressure_Pa);
  if (!cylinder)
    reader.pair(step, "humidity", "--humidity", Dimension::humidity, Dimension::humidity, typed_u_humidity);
}

CalibrationGas span_gas(const Arguments& arguments, CalibrateReader& reader) {
  CalibrationGas gas;
  gas.kind = arguments.value_or("--gas", "fresh-air");
  if (gas.kind != "fresh-air" && gas.kind != "nitrogen" && gas.kind != "span-gas")
    reader.problem(fmt::format("--gas: \"{}\" is none of fresh-air, nitrogen and span-gas", printable(gas.kind)));
  gas.step["gas"] = gas.kind;
  const auto oxygen = reader.si("--oxygen", Dimension::ratio);
  if (gas.kind == "span-gas" && !oxygen)
    reader.problem(
        "--oxygen is missing: the oxygen of the span gas as its certificate gives it, such as --oxygen 2.01%");
  if (oxygen) {
    const auto u = reader.si("--u-oxygen", Dimension::ratio);
    gas.step["oxygen"] = {*oxygen, u.value_or(gas.kind == "fresh-air" ? 0.00006 : *oxygen * relative_u_gas)};
  }
  reader.text(gas.step, "cylinder", "--cylinder");
  reader.text(gas.step, "certificate", "--certificate");
  reader.time(gas.step, "expires", "--expires");
  read_conditions(reader, gas.step, gas.kind != "fresh-air");
  return gas;
}

CalibrationGas zero_gas(CalibrateReader& reader) {
  CalibrationGas gas{"nitrogen", {{"gas", "nitrogen"}}};
  reader.text(gas.step, "cylinder", "--zero-cylinder");
  reader.text(gas.step, "certificate", "--zero-certificate");
  reader.time(gas.step, "expires", "--zero-expires");
  read_conditions(reader, gas.step, true);
  return gas;
}

void read_entered(const Arguments& arguments, CalibrateReader& reader, CalibrateCase& out) {
  auto& step = out.gases.front().step;
  reader.pair(step, "signal", "--signal", Dimension::voltage, Dimension::voltage, typed_u_signal_V);
  reader.time(step, "performed", "--performed");
  for (const std::string_view needed : {"--performed", "--temperature", "--humidity", "--pressure"})
    if (!arguments.given(needed) && !(needed == "--humidity" && out.gases.front().kind != "fresh-air"))
      reader.problem(fmt::format("{} is missing: a point entered by hand needs what was written down then", needed));
  if (out.gases.size() > 1) reader.problem("--signal enters one point by hand; --zero-first is measured");
  out.entered = true;
}

void read_target(const Arguments& arguments, CalibrateReader& reader, CalibrateCase& out) {
  const auto& words = arguments.positional();
  const auto cell = words.size() == 1 ? in_room(words[0]) : std::nullopt;
  if (!cell)
    return reader.problem("name one cell as ROOM/SENSOR, such as cryo-annexe/cell-a; `oxherd status` lists them");
  out.room = cell->room;
  out.sensor = cell->name;
}

} // namespace

std::vector<Option> calibrate_options() {
  return {{"--by", "NAME", "who does it, for the record (default: your login name)", "R. Okafor"},
          {"--reason", "TEXT", "for the record; also overrides what can be overridden", "after cleaning"},
          {"--gas",
           "KIND",
           "fresh-air (default), nitrogen or span-gas",
           "span-gas",
           true,
           {"fresh-air", "nitrogen", "span-gas"}},
          {"--oxygen", "FRACTION", "dry oxygen of the gas (default: 20.946 % in air, none in nitrogen)", "2.01%"},
          {"--u-oxygen", "FRACTION", "its standard uncertainty (default: 0.006 % in air, 1 % of the value)", "0.02%"},
          {"--cylinder", "NUMBER", "the cylinder the gas comes from", "CY-4471"},
          {"--certificate", "NUMBER", "its certificate", "LK-CERT-88"},
          {"--expires", "DAY", "until when the certificate is valid", "2027-03-31"},
          {"--zero-first", "", "two points: nitrogen first, then the gas", ""},
          {"--zero-cylinder", "NUMBER", "cylinder of that nitrogen", "CY-4402"},
          {"--zero-certificate", "NUMBER", "its certificate", "LK-CERT-70"},
          {"--zero-expires", "DAY", "until when that is valid", "2027-03-31"},
          {"--check", "", "compare with the gas only: nothing is adjusted", ""},
          {"--bump", "", "bump test: gas reaches the cell and the alarm acts; the alarm is left on", ""},
          {"--temperature", "TEMPERATURE", "of the gas, instead of the room's probe (--u-temperature: 0.3 K)", "21.3C"},
          {"--u-temperature", "DIFFERENCE", "standard uncertainty of the typed temperature", "0.2K", false},
          {"--humidity", "HUMIDITY", "of the air, instead of the probe (--u-humidity: 3 %)", "45%"},
          {"--u-humidity", "HUMIDITY", "standard uncertainty of the typed humidity", "2%", false},
          {"--pressure", "PRESSURE", "station pressure, instead of the barometer (--u-pressure: 0.1 kPa)", "99.8kPa"},
          {"--u-pressure", "PRESSURE", "standard uncertainty of the typed pressure", "0.05kPa", false},
          {"--signal", "VOLTAGE", "enter a point written down elsewhere; nothing is measured (--u-signal: 0.02 mV)",
           "12.6mV"},
          {"--u-signal", "VOLTAGE", "standard uncertainty of the typed signal", "0.02mV", false},
          {"--performed", "TIME", "when that point was taken", "2026-03-01T08:00:00+01:00"},
          {"--supersedes", "NUMBER", "this record replaces that one", "7"},
          {"--withdraw", "NUMBER", "declare a record void; the one before it is in force again", "7"},
          {"--give-up", "DURATION", "stop waiting for a stable signal (default 15min)", "20min"},
          {"--dry-run", "", "do everything but record it", ""},
          {"--yes", "", "record without asking", ""},
          state_dir_option(),
          json_option("print the result as one line of JSON")};
}

tl::expected<CalibrateCase, std::vector<std::string>> read_calibrate_case(const Arguments& arguments,
                                                                          const std::string& login) {
  CalibrateReader reader{arguments};
  CalibrateCase out;
  out.author = arguments.value_or("--by", login);
  if (!is_somebody(out.author)) reader.problem("--by is missing: the record needs the name of a person");
  out.reason = arguments.value_or("--reason", "");
  out.dry_run = arguments.given("--dry-run");
  out.yes = arguments.given("--yes");
  out.withdrawn = reader.number("--withdraw");
  out.supersedes = reader.number("--supersedes");
  if (const auto patience = reader.si("--give-up", Dimension::duration)) out.give_up_s = *patience;
  if (arguments.given("--check") && arguments.given("--bump")) reader.problem("--check and --bump exclude each other");
  out.act = arguments.given("--check") ? "check" : arguments.given("--bump") ? "bump-test" : "adjustment";
  if (arguments.given("--withdraw")) {
    if (!arguments.positional().empty()) reader.problem("--withdraw names a record by its number, not a cell");
    if (out.reason.empty()) reader.problem("--reason is missing: a withdrawal says why");
  } else {
    read_target(arguments, reader, out);
    if (arguments.given("--zero-first")) out.gases.push_back(zero_gas(reader));
    out.gases.push_back(span_gas(arguments, reader));
    if (arguments.given("--signal")) read_entered(arguments, reader, out);
    if (arguments.given("--performed") && !arguments.given("--signal"))
      reader.problem("--performed belongs to a point entered by hand with --signal");
  }
  if (!reader.problems.empty()) return tl::unexpected(std::move(reader.problems));
  return out;
}

} // namespace oxherd::daemon::cli
