#include "daemon/cli/tuning_text.hpp"

#include <fmt/core.h>
#include <nlohmann/json.hpp>

#include "daemon/cli/answer.hpp"
#include "daemon/cli/text.hpp"

namespace oxherd::daemon::cli {
namespace {

using nlohmann::json;

/// A difference of the value: degrees Celsius are kelvins then.
std::string unit_of_differences(const json& loop) {
  const auto unit = text_of(loop, "unit");
  return unit == "°C" ? "K" : unit;
}

double percent_in(const json& object, std::string_view key) { return number_of(object, key).value_or(0.0) * 100.0; }

std::string how_it_runs(const json& tuning, const json& loop) {
  const auto value = [&](std::string_view key) {
    return fmt::format("{:.{}f}", number_of(tuning, key).value_or(0.0),
                       static_cast<int>(number_of(loop, "decimals").value_or(1.0)));
  };
  return fmt::format("swings {} around {} within {} to {} {}, output {:.0f} % or {:.0f} %, for {} at most",
                     text_of(loop, "holds"), value("set_point"), value("low"), value("high"), text_of(loop, "unit"),
                     percent_in(tuning, "output_low"), percent_in(tuning, "output_high"),
                     duration_text(number_of(tuning, "longest_s").value_or(0.0)));
}

std::string what_it_found(const json& tuning, const json& loop) {
  const json& found = object_of(tuning, "ultimate");
  if (found.empty()) return {};
  const auto unit = unit_of_differences(loop);
  auto text = fmt::format("      ultimate gain Ku {:.3g} % per {}, ultimate period Pu {}, swing {:.3g} {}\n",
                          percent_in(found, "gain"), unit, duration_text(number_of(found, "period_s").value_or(0.0)),
                          number_of(found, "swing").value_or(0.0), unit);
  if (is_true(found, "lopsided"))
    text += fmt::format("      the levels lay unevenly, and the period is too long: repeat it with --output around "
                        "{:.0f} %\n",
                        percent_in(found, "output_mean"));
  text += "      proposed for the settings of the loop; nothing is changed by itself:\n";
  for (const json& proposal : list_of(tuning, "proposals"))
    text += fmt::format("      {} {}\n          {}{}\n", is_true(proposal, "by_default") ? "*" : " ",
                        text_of(proposal, "words"), text_of(proposal, "settings"),
                        number_of(proposal, "integral_time_s") ? "" : " (the settings always have an integral_time)");
  return text + "      * to try first\n";
}

} // namespace

std::string tuning_text(const Console& console, const json& loop) {
  const json& tuning = object_of(loop, "tuning");
  if (tuning.empty()) return {};
  const auto swings = static_cast<std::size_t>(number_of(tuning, "swings").value_or(0.0));
  const auto by = fmt::format("by {} since {}: {}", text_of(tuning, "by"), local_time_of(tuning, "since"),
                              text_of(tuning, "because"));
  if (is_true(tuning, "running"))
    return fmt::format("    {} {}\n      {}; {} so far\n", stressed(console, Stress::warning, "TUNED"), by,
                       how_it_runs(tuning, loop), counted(swings, "swing"));
  return fmt::format("    tuned {}\n      ended {} after {}: {}\n", by, local_time_of(tuning, "ended"),
                     counted(swings, "swing"), text_of(tuning, "outcome")) +
         what_it_found(tuning, loop);
}

} // namespace oxherd::daemon::cli
