#include "daemon/cli/loop_report_text.hpp"

#include <cmath>

#include <fmt/core.h>
#include <nlohmann/json.hpp>

#include "daemon/cli/answer.hpp"
#include "daemon/cli/text.hpp"

namespace oxherd::daemon::cli {
namespace {

using nlohmann::json;

/// A line of the report; nothing was seen that tells it: a dash.
std::string line(std::string_view what, const std::string& figure, std::string_view means) {
  return fmt::format("  {:<22} {:<24} {}\n", what, figure.empty() ? "-" : figure, means);
}

std::string share(const json& of, std::string_view key) { return percent_text(number_of(of, key), 1); }

/// A difference in the unit of the value, with one digit more than the value is shown with.
std::string distance(const json& of, std::string_view key, const json& loop) {
  const auto value = number_of(of, key);
  if (!value) return {};
  const auto unit = text_of(loop, "unit");
  return fmt::format("{:.{}f} {}", *value, static_cast<int>(number_of(loop, "decimals").value_or(1.0)) + 1,
                     unit == "°C" ? "K" : unit);
}

std::string duration_in(const json& of, std::string_view key) {
  const auto seconds = number_of(of, key);
  return seconds ? duration_text(*seconds) : std::string{"not seen"};
}

// What counts as much or little below: common practice, no source.
std::string_view of_automatic(const json& report) {
  return number_of(report, "automatic_share").value_or(1.0) < 0.9
             ? "of the time the loop decided: find out why a person or an interlock did so often"
             : "of the time the loop decided";
}

std::string_view of_mean(const json& report) {
  const double mean = number_of(report, "error_mean").value_or(0.0);
  return std::abs(mean) > number_of(report, "band").value_or(0.0) / 2.0
             ? "set-point less value: a lasting one is a limit reached, or a band that is too wide"
             : "set-point less value";
}

std::string_view of_limit(const json& report) {
  return number_of(report, "limit_share").value_or(0.0) > 0.2
             ? "of the time at an end of its output: too weak an actuator, or a set-point out of reach"
             : "of the time at an end of its output";
}

std::string_view of_swings(const json& report) {
  return is_true(report, "oscillating")
             ? "OSCILLATES: widen proportional_band, or tune it; a sticking valve does so too"
             : "none that is lasting and as wide as the band";
}

std::string_view of_idle(const json& report) {
  const auto index = number_of(report, "idle_index");
  if (!index) return "of -1 to 1; the value has not moved enough to tell";
  if (*index > 0.4) return "of -1 to 1; near 1 it only creeps back: tune it, or narrow proportional_band";
  return *index < -0.4 ? "of -1 to 1; near -1 it is quick, or oscillates" : "of -1 to 1; near 0 it is well tuned";
}

std::string step_lines(const json& report, const json& loop) {
  const json& step = object_of(report, "step");
  if (step.empty()) return line("last step", {}, "of the set-point: none was seen that was twice the band");
  const double overshoot = number_of(step, "overshoot").value_or(0.0);
  return line("last step", distance(step, "size", loop),
              is_true(step, "under_way") ? "of the set-point; it is still watched" : "of the set-point") +
         line("  rise", duration_in(step, "rise_s"), "from 10 % to 90 % of the way") +
         line("  overshoot", percent_text(overshoot, 1),
              overshoot > 0.25 ? "of the step: less set_point_weight, or tune it" : "of the step") +
         line("  settled after", duration_in(step, "settling_s"), "within 5 % of the step");
}

} // namespace

std::string loop_report_text(const std::string& room, const json& loop) {
  const json& report = object_of(loop, "report");
  auto text = fmt::format("{}/{}, holds {}\n", room, text_of(loop, "loop"), text_of(loop, "holds"));
  if (report.empty()) return text + "  nothing was seen of it yet\n";
  const auto by = text_of(report, "by");
  text += line("observed", duration_text(number_of(report, "observed_s").value_or(0.0)),
               fmt::format("since {}{}", local_time_of(report, "since"),
                           by.empty() ? ", when the daemon started or its settings changed" : ", begun anew by " + by));
  text += line("in automatic", share(report, "automatic_share"), of_automatic(report));
  text += line("mean deviation", distance(report, "error_mean", loop), of_mean(report));
  text += line("its standard deviation", distance(report, "error_sd", loop), "how far it strays from that mean");
  text += line("within the band", share(report, "within_band_share"),
               fmt::format("of the time; the band is {} to each side, the default of switch_on_beyond",
                           distance(report, "band", loop)));
  if (const auto per_h = number_of(report, "switchings_per_h"))
    text += line("switchings", fmt::format("{:.1f} an hour", *per_h),
                 "on and off, of its coil; wear counts them: a longer cycle, or a wider band, makes them fewer");
  if (text_of(loop, "method") == "on-off") return text + step_lines(report, loop);
  text += line("at a limit", share(report, "limit_share"), of_limit(report));
  text += step_lines(report, loop);
  const bool swings = is_true(report, "oscillating");
  text += line("oscillation",
               swings ? fmt::format("{}, ±{}", duration_in(report, "oscillation_period_s"),
                                    distance(report, "oscillation_amplitude", loop))
                      : std::string{"none"},
               of_swings(report));
  const auto idle = number_of(report, "idle_index");
  return text + line("idle index", idle ? fmt::format("{:.2f}", *idle) : std::string{}, of_idle(report));
}

} // namespace oxherd::daemon::cli
