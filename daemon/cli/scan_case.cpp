#include "daemon/cli/scan_case.hpp"

#include <algorithm>
#include <filesystem>

#include <fmt/core.h>

#include "compensation/barometry.hpp"
#include "compensation/units.hpp"
#include "config/measurands.hpp"
#include "config/nearest.hpp"
#include "config/rules.hpp"
#include "config/table_reader.hpp"
#include "daemon/cli/answer.hpp"
#include "daemon/commission/bus_word.hpp"
#include "drivers/serial_port.hpp"

namespace oxherd::daemon::cli {
namespace {

using commission::NumberRange;
using commission::SurveyPlan;
using compensation::Dimension;
using std::chrono::milliseconds;

/// Why an option cannot be used; empty when all is well.
using Trouble = std::optional<std::string>;

Trouble scan_duration(const Arguments& arguments, const std::string& name, const config::QuantityRule& rule,
                      milliseconds& to) {
  const auto text = arguments.value(name);
  if (!text) return std::nullopt;
  const auto seconds = compensation::parse_quantity(*text, Dimension::duration);
  if (!seconds) return fmt::format("{}: {}", name, seconds.error().message);
  if (*seconds < rule.low || *seconds > rule.high) return fmt::format("{}: {} is outside {}", name, *text, rule.span);
  to = milliseconds{static_cast<std::int64_t>(*seconds * 1e3)};
  return std::nullopt;
}

Trouble scan_ranges(const Arguments& arguments, const std::string& name, NumberRange permitted, std::string_view what,
                    std::vector<NumberRange>& to) {
  const auto text = arguments.value(name);
  if (!text) return std::nullopt;
  auto ranges = commission::number_ranges(*text, permitted, what);
  if (!ranges) return fmt::format("{}: {}", name, ranges.error());
  to = *std::move(ranges);
  return std::nullopt;
}

Trouble scan_line(const Arguments& arguments, drivers::BusAddress& bus) {
  auto* line = std::get_if<drivers::SerialLine>(&bus);
  for (const std::string_view name : {"--baud", "--parity", "--stop-bits"})
    if (arguments.given(name) && line == nullptr)
      return fmt::format("{} belongs to a serial device; a TCP bus has none", name);
  if (line == nullptr) return std::nullopt;
  for (const auto& [name, to] : {std::pair{"--baud", &line->baud}, {"--stop-bits", &line->stop_bits}})
    if (const auto text = arguments.value(name)) {
      const auto number = whole_number(*text);
      if (!number || *number < 0 || *number > 1'000'000)
        return fmt::format("{}: \"{}\" is no whole number that fits", name, *text);
      *to = static_cast<int>(*number);
    }
  if (const auto text = arguments.value("--parity")) {
    const auto parity = commission::parity_named(*text);
    if (!parity) return fmt::format("--parity: {}", parity.error());
    line->parity = *parity;
  }
  return drivers::why_impossible(*line);
}

Trouble scan_hints(const Arguments& arguments, commission::Hints& hints) {
  if (const auto text = arguments.value("--elevation")) {
    const auto metres_up = compensation::parse_quantity(*text, Dimension::length);
    if (!metres_up) return fmt::format("--elevation: {}", metres_up.error().message);
    if (*metres_up < config::site_elevation.low || *metres_up > config::site_elevation.high)
      return fmt::format("--elevation: {} is outside {}", *text, config::site_elevation.span);
    const auto normal = compensation::standard_pressure(compensation::geopotential(metres(*metres_up)));
    if (normal) hints.standard_pressure = *normal;
  }
  const auto text = arguments.value("--expect");
  if (!text) return std::nullopt;
  for (std::string_view rest = *text; !rest.empty();) {
    const auto end = std::min(rest.find(','), rest.size());
    const auto word = rest.substr(0, end);
    const auto measurand = config::measurand_named(word);
    const bool guessed = measurand && std::ranges::any_of(commission::guess_kinds(),
                                                          [&](const auto& k) { return k.measurand == *measurand; });
    if (!guessed)
      return fmt::format("--expect: \"{}\" is nothing that is guessed; there is \"oxygen\", \"temperature\", "
                         "\"humidity\", \"pressure\" and \"carbon-dioxide\", with commas between them",
                         word);
    hints.expected.push_back(*measurand);
    rest.remove_prefix(std::min(end + 1, rest.size()));
  }
  return std::nullopt;
}

/// Everything that can be said against writing the profile is said before a bus is asked for minutes.
Trouble scan_profile(const Arguments& arguments, ScanCase& to) {
  to.profile = arguments.value("--write-profile");
  to.force = arguments.given("--force");
  const auto unit = arguments.value("--profile-of");
  if (!to.profile) {
    if (unit) return "--profile-of says which unit --write-profile describes; give that too";
    return to.force ? Trouble{"--force belongs to --write-profile"} : std::nullopt;
  }
  const std::filesystem::path file{*to.profile};
  if (file.extension() != ".toml" || !config::is_name(file.stem().string()))
    return fmt::format("--write-profile: \"{}\" cannot name a profile; use lower-case letters, digits and single "
                       "dashes with .toml behind, such as profiles/annexe-probe.toml",
                       *to.profile);
  std::error_code ignored;
  if (const auto folder = file.parent_path(); !folder.empty() && !std::filesystem::is_directory(folder, ignored))
    return fmt::format("--write-profile: there is no directory \"{}\"; make it first", folder.string());
  if (!to.force && std::filesystem::exists(file, ignored))
    return fmt::format("--write-profile: \"{}\" is there already; --force replaces it", *to.profile);
  if (unit) {
    const auto number = whole_number(*unit);
    const bool asked = number && std::ranges::any_of(to.plan.units, [&](const NumberRange& range) {
                         return *number >= range.first && *number <= range.last;
                       });
    if (!asked) return fmt::format("--profile-of: \"{}\" is none of the units that are asked", *unit);
    to.profile_of = static_cast<int>(*number);
  } else if (commission::count_of(to.plan.units) == 1)
    to.profile_of = to.plan.units.front().first;
  else
    return "--write-profile describes one device: name its unit with --profile-of, or ask it alone with --units";
  return std::nullopt;
}

} // namespace

std::vector<Option> scan_options() {
  return {
      {"--units", "RANGES", "unit numbers to ask (default: 1-247)", "1-20,31"},
      {"--registers", "RANGES", "addresses to look at in each unit, counted from 0 (default: 0-127)", "0-63,1000-1063"},
      {"--timeout", "DURATION", "how long to wait for each reply (default: 500 ms)", "500ms"},
      {"--watch", "DURATION", "how long to watch which values move (default: 5 s)", "5s"},
      {"--elevation", "LENGTH", "of the site: tells a pressure from other numbers", "212m"},
      {"--expect", "MEASURANDS", "guess these only, with commas between them", "temperature,humidity"},
      {"--baud", "RATE", "of a serial device (default: 19200)", "9600"},
      {"--parity", "PARITY", "of a serial device: even, odd or none (default: even)", "none"},
      {"--stop-bits", "N", "of a serial device: 1 or 2 (default: 1)", "2"},
      {"--write-profile", "FILE", "write the guesses for one unit as a register map", "profiles/annexe-probe.toml"},
      {"--profile-of", "UNIT", "the unit that --write-profile describes", "21"},
      {"--force", "", "replace FILE when it exists", ""},
      json_option("print one line of JSON")};
}

tl::expected<ScanCase, std::string> read_scan_case(const Arguments& arguments) {
  if (arguments.positional().size() != 1)
    return tl::unexpected(std::string{"name one bus, such as tcp://192.0.2.10:502 or /dev/ttyUSB0"});
  ScanCase out;
  out.bus_word = arguments.positional().front();
  auto bus = commission::bus_named(out.bus_word);
  if (!bus) return tl::unexpected(bus.error());
  out.bus = *std::move(bus);
  const bool serial = std::holds_alternative<drivers::SerialLine>(out.bus);
  milliseconds watch{5000};
  constexpr config::QuantityRule watch_span{Dimension::duration, 0.5, 600.0, "500 ms to 10 min"};
  Trouble trouble;
  const auto settle = [&](Trouble one) {
    if (!trouble) trouble = std::move(one);
  };
  settle(scan_line(arguments, out.bus));
  // Modbus over Serial Line V1.02, 2.2; over TCP unit 0 and 255 are the server itself, but 248 to 254 are reserved.
  settle(scan_ranges(arguments, "--units", serial ? NumberRange{1, 247} : NumberRange{0, 247}, "unit", out.plan.units));
  settle(scan_ranges(arguments, "--registers", {0, 65535}, "register", out.plan.registers));
  settle(scan_duration(arguments, "--timeout", config::reply_timeout, out.plan.timeout));
  settle(scan_duration(arguments, "--watch", watch_span, watch));
  settle(scan_hints(arguments, out.hints));
  settle(scan_profile(arguments, out));
  if (trouble) return tl::unexpected(*trouble);
  out.plan.period = watch / (out.plan.rounds - 1);
  out.hints.period_s = std::chrono::duration<double>(out.plan.period).count();
  return out;
}

} // namespace oxherd::daemon::cli
