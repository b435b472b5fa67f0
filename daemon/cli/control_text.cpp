#include "daemon/cli/control_text.hpp"

#include <algorithm>

#include <fmt/core.h>
#include <nlohmann/json.hpp>

#include "daemon/cli/answer.hpp"
#include "daemon/cli/text.hpp"
#include "daemon/cli/tuning_text.hpp"

namespace oxherd::daemon::cli {
namespace {

using nlohmann::json;

std::string said(const json& actuator, std::string_view key, std::string_view what) {
  const json& of = object_of(actuator, key);
  if (of.empty()) return {};
  const auto until = text_of(of, "until").empty() ? std::string{} : " until " + local_time_of(of, "until");
  const auto by = text_of(of, "by");
  return fmt::format("    {}{}{}{}: {}\n", what, by.empty() ? "" : " by " + by,
                     until.empty() ? " since " + local_time_of(of, "since") : "", until, text_of(of, "because"));
}

std::string value_in(const json& loop, std::string_view key) {
  const auto value = number_of(loop, key);
  if (!value) return "unknown";
  return fmt::format("{:.{}f} {}", *value, static_cast<int>(number_of(loop, "decimals").value_or(1.0)),
                     text_of(loop, "unit"));
}

std::string loop_lines(const json& actuator) {
  const json& loop = object_of(actuator, "loop");
  if (loop.empty()) return "    no loop; worked by hand alone\n";
  auto line = fmt::format("    loop {}: {} {}, set-point {}", text_of(loop, "loop"), text_of(loop, "holds"),
                          value_in(loop, "value"), number_of(loop, "set_point") ? value_in(loop, "set_point") : "none");
  if (const auto method = text_of(loop, "method"); method != "on-off")
    line += fmt::format(", demand {:.0f} %", number_of(loop, "demand").value_or(0.0) * 100.0);
  if (const auto program = text_of(loop, "program"); !program.empty()) line += ", program " + program;
  if (!text_of(loop, "next_at").empty())
    line += fmt::format(", {} from {}", value_in(loop, "next_target"), local_time_of(loop, "next_at"));
  if (const auto trouble = text_of(loop, "trouble"); !trouble.empty()) line += "\n      " + trouble;
  return line + '\n';
}

std::string does(const json& actuator) {
  const double fraction = number_of(actuator, "fraction").value_or(0.0);
  if (fraction <= 0.0) return "OFF";
  return fraction >= 1.0 ? "ON" : fmt::format("{:.0f} %", fraction * 100.0);
}

} // namespace

std::string control_text(const Console& console, const json& actuators) {
  std::string out;
  for (const auto& actuator : actuators) {
    const auto by = text_of(actuator, "decided_by");
    const auto head =
        fmt::format("{} ({}): {}", text_of(actuator, "output"), text_of(actuator, "duty"), does(actuator));
    const auto because = text_of(actuator, "because");
    const bool tripped = !object_of(actuator, "tripped").empty();
    const auto stress = tripped                                   ? Stress::alarm
                        : by == "interlock" || by == "safe-state" ? Stress::warning
                                                                  : Stress::none;
    out += fmt::format("  {} by {}{}\n", stressed(console, stress, head), by, because.empty() ? "" : ": " + because);
    out += loop_lines(actuator);
    out += tuning_text(console, object_of(actuator, "loop"));
    out += said(actuator, "tripped", "STOPPED, waits to be released,");
    out += said(actuator, "started", "started");
    out += said(actuator, "held", "held");
    if (const auto held_back = text_of(actuator, "held_back"); !held_back.empty())
      out += fmt::format("    {}\n", held_back);
    if (const auto forecast = text_of(actuator, "forecast"); !forecast.empty())
      out += fmt::format("    {}\n", forecast);
  }
  return out;
}

} // namespace oxherd::daemon::cli
