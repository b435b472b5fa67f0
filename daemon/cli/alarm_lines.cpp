#include "daemon/cli/alarm_lines.hpp"

#include <algorithm>

#include <fmt/core.h>
#include <nlohmann/json.hpp>

#include "alarms/annunciation.hpp"
#include "daemon/cli/answer.hpp"
#include "daemon/cli/text.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon::cli {
namespace {

/// Below this a limit of a fraction is written in ppm: carbon dioxide limits are, oxygen limits are not.
constexpr double ppm_below = 0.01;

std::string words_of(std::string state) {
  std::ranges::replace(state, '_', ' ');
  return state.empty() ? "state unknown" : state;
}

std::string values_text(const nlohmann::json& alarm) {
  const auto unit = text_of(alarm, "unit");
  const auto limit = number_of(alarm, "limit");
  const auto value = number_of(alarm, "value");
  const bool as_ppm = limit && *limit < ppm_below;
  std::string out;
  if (value) {
    out += fmt::format(", value {}", quantity_text(value, unit, as_ppm));
    if (const auto expanded = number_of(alarm, "expanded"))
      out += fmt::format(" ± {} (k = {:g})", quantity_text(expanded, unit, as_ppm),
                         number_of(alarm, "coverage_factor").value_or(2.0));
  }
  if (limit) out += fmt::format(", limit {}", quantity_text(limit, unit, as_ppm));
  return out;
}

std::string marks_text(const nlohmann::json& alarm) {
  std::string out;
  if (is_true(alarm, "test")) out += ", TEST";
  if (is_true(alarm, "sounding")) out += ", SOUNDING";
  if (is_true(alarm, "first_out")) out += ", first of its room";
  if (is_true(alarm, "chattering")) out += ", chattering";
  return out;
}

} // namespace

bool is_normal(const nlohmann::json& alarm) { return text_of(alarm, "state") == name_of(alarms::State::normal); }

bool waits_for_acknowledgement(const nlohmann::json& alarm) {
  using enum alarms::State;
  const auto state = alarms::state_named(text_of(alarm, "state"));
  return state == unacknowledged || state == returned_to_normal_unacknowledged || state == latched_unacknowledged;
}

std::string age_text(const std::string& since, const std::string& now) {
  const auto from = parse_rfc3339(since);
  const auto to = parse_rfc3339(now);
  if (!from || !to) return "";
  return duration_text(static_cast<double>((*to - *from).count()) / 1e3);
}

std::string alarm_lines(const Console& console, const nlohmann::json& alarm, const std::string& now,
                        std::size_t indent) {
  const auto name = fmt::format("{}/{}", text_of(alarm, "room"), text_of(alarm, "alarm"));
  const auto state = words_of(text_of(alarm, "state"));
  const auto age = age_text(text_of(alarm, "since"), now);
  const auto stress = is_normal(alarm)                   ? Stress::none
                      : waits_for_acknowledgement(alarm) ? Stress::alarm
                                                         : Stress::warning;
  std::string out(indent, ' ');
  out += stressed(console, stress, fmt::format("{}: {}", name, state));
  out += fmt::format(", {}{}{}, since {}{}{}\n", text_of(alarm, "priority"), is_true(alarm, "safety") ? ", safety" : "",
                     marks_text(alarm), local_time_of(alarm, "since"), age.empty() ? "" : fmt::format(" ({})", age),
                     values_text(alarm));
  const auto text = text_of(alarm, "text");
  if (!text.empty() && !is_normal(alarm)) out += std::string(indent + 2, ' ') + wrapped(text, 110, indent + 2) + '\n';
  return out;
}

} // namespace oxherd::daemon::cli
