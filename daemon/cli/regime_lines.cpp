#include "daemon/cli/regime_lines.hpp"

#include <fmt/core.h>
#include <nlohmann/json.hpp>

#include "daemon/cli/answer.hpp"
#include "daemon/cli/text.hpp"

namespace oxherd::daemon::cli {

using nlohmann::json;

std::string regime_said_by(const json& room) {
  const auto by = text_of(room, "regime_by");
  if (by.empty()) return "by the file";
  const auto why = text_of(room, "regime_because");
  return fmt::format("since {} by {}{}", local_time_of(room, "regime_since"), by, why.empty() ? "" : ": " + why);
}

std::string door_words(const json& room) {
  const auto door = text_of(room, "door");
  const auto words = door.empty() ? "no door contact" : "door " + door;
  return is_true(room, "seal_broken") ? words + ", SEAL BROKEN (opened, or people seen, since it was sealed)" : words;
}

std::string entry_lock_words(const json& room) {
  const json& lock = object_of(room, "entry_lock");
  if (lock.empty()) return "no entry lock";
  if (!is_true(lock, "withheld")) return "entry lock not withheld";
  std::string reasons;
  for (const auto& reason : list_of(lock, "reasons"))
    if (reason.is_string()) reasons += (reasons.empty() ? "" : "; ") + printable(reason.get_ref<const std::string&>());
  if (!reasons.empty()) return "entry lock withheld: " + reasons;
  const double left = number_of(lock, "hold_s").value_or(0.0) - number_of(lock, "fresh_for_s").value_or(0.0);
  return fmt::format("entry lock withheld for {} more, if the air stays fresh", duration_text(left));
}

std::string not_in_force_words(const json& room) {
  std::string names;
  for (const auto& alarm : list_of(room, "alarms"))
    if (is_true(alarm, "safety") && alarm.contains("in_force") && !is_true(alarm, "in_force"))
      names += (names.empty() ? "" : ", ") + text_of(alarm, "alarm");
  if (names.empty()) return {};
  return fmt::format("not in force while the room is {} and its door closed: {}", text_of(room, "regime"), names);
}

} // namespace oxherd::daemon::cli
