#include "daemon/cli/plant_lines.hpp"

#include <fmt/core.h>
#include <nlohmann/json.hpp>

#include "daemon/cli/answer.hpp"
#include "daemon/cli/table.hpp"
#include "daemon/cli/text.hpp"

namespace oxherd::daemon::cli {
namespace {

using nlohmann::json;

/// What waits, how much of it outlives the daemon where that is told, and what was given up.
std::string queue_text(const json& part) {
  const auto count = [&](std::string_view key) { return number_of(part, key).value_or(0.0); };
  const double on_disk = count("on_disk");
  return fmt::format("{:.0f} waiting, {}{:.0f} dropped", count("waiting"),
                     on_disk > 0.0 ? fmt::format("{:.0f} on disk, ", on_disk) : "", count("dropped"));
}

/// "3.2 GB, 41 % of the disk free".
std::string room_text(const Console& console, const json& store) {
  const auto known = number_of(store, "bytes");
  if (!known) return {};
  const double bytes = *known;
  const auto size = bytes < 1e9 ? fmt::format("{:.0f} MB", bytes / 1e6) : fmt::format("{:.1f} GB", bytes / 1e9);
  const auto room =
      fmt::format("{}, {:.0f} % of the disk free", size, 100.0 * number_of(store, "free_share").value_or(0));
  if (!is_true(store, "shortened")) return room;
  return fmt::format("{}: {}", room,
                     stressed(console, Stress::warning, "OLDEST MEASUREMENTS DELETED BEFORE THEIR TIME"));
}

/// A word of the plant: plain while it is well.
std::string state_word(const Console& console, bool well, std::string_view if_well, std::string_view if_not) {
  return well ? std::string{if_well} : stressed(console, Stress::warning, if_not);
}

std::string output_words(const Console& console, const json& output) {
  const auto confirmed = output.find("confirmed");
  const bool known = confirmed != output.end() && confirmed->is_boolean();
  if (known && !confirmed->get<bool>()) return stressed(console, Stress::alarm, "LOST");
  return state_word(console, is_true(output, "written"), known ? "confirmed" : "written", "NOT WRITTEN");
}

/// What a person owes the output; nothing while its proof is not due.
std::string proof_words(const json& output) {
  const json& proof = object_of(output, "proof");
  const auto by = text_of(proof, "test_by");
  if (is_true(proof, "driving")) return "PROOF TEST by " + by;
  if (is_true(proof, "awaiting_answer")) return "PROOF TEST by " + by + ": say what was seen";
  const auto is_text = [&](std::string_view key) { return !text_of(proof, key).empty(); };
  if (text_of(proof, "last") == "failed") return "proof test FAILED " + local_time_of(proof, "last_at");
  if (!is_true(proof, "overdue")) return is_text("due") ? "proof due " + local_time_of(proof, "due") : std::string{};
  return is_text("worked_at") ? "proof OVERDUE since " + local_time_of(proof, "due") : "NEVER PROVED";
}

std::string joined(const std::string& one, const std::string& other) {
  return one + (one.empty() || other.empty() ? "" : "; ") + other;
}

void add_people(const Console& console, Table& table, const json& notify) {
  if (is_true(notify, "configured")) {
    const auto& troubles = list_of(notify, "troubles");
    table.add({"people", state_word(console, troubles.empty(), "told of alarms", "MAY NOT BE TOLD"),
               fmt::format("{:.0f} waiting", number_of(notify, "waiting").value_or(0.0)),
               troubles.empty() || !troubles.front().is_string()
                   ? ""
                   : printable(troubles.front().get_ref<const std::string&>())});
  } else
    table.add({"people", "nobody told"});
  const json& watcher = object_of(notify, "watcher");
  if (!is_true(watcher, "configured")) return;
  const auto trouble = text_of(watcher, "trouble");
  table.add({"watcher", state_word(console, trouble.empty(), "takes the heartbeat", "NO HEARTBEAT"),
             "last taken " + local_time_of(watcher, "last_taken"), trouble});
}

} // namespace

std::string plant_lines(const Console& console, const json& status) {
  Table table;
  for (const auto& bus : list_of(status, "buses"))
    table.add({fmt::format("bus {}", text_of(bus, "name")),
               state_word(console, is_true(bus, "connected"), "connected", "NOT CONNECTED"),
               fmt::format("{:.0f} polls, {:.0f} failures", number_of(bus, "polls").value_or(0.0),
                           number_of(bus, "failures").value_or(0.0)),
               text_of(bus, "trouble")});
  for (const auto& output : list_of(status, "outputs"))
    table.add({fmt::format("output {}", text_of(output, "name")), output_words(console, output),
               fmt::format("by bus {}", text_of(output, "bus")),
               joined(text_of(output, "trouble"), proof_words(output))});
  const json& mqtt = object_of(status, "mqtt");
  if (is_true(mqtt, "configured"))
    table.add({"broker", state_word(console, is_true(mqtt, "connected"), "connected", "NOT CONNECTED"),
               queue_text(mqtt), joined(text_of(mqtt, "trouble"), text_of(mqtt, "disk_trouble"))});
  else
    table.add({"broker", "none configured"});
  const json& sparkplug = object_of(status, "sparkplug");
  if (is_true(sparkplug, "configured"))
    table.add({"sparkplug", state_word(console, is_true(sparkplug, "connected"), "connected", "NOT CONNECTED"),
               fmt::format("{:.0f} births, {:.0f} commands ignored", number_of(sparkplug, "births").value_or(0.0),
                           number_of(sparkplug, "commands_ignored").value_or(0.0)),
               text_of(sparkplug, "trouble")});
  add_people(console, table, object_of(status, "notify"));
  const json& page = object_of(status, "http");
  if (is_true(page, "configured"))
    table.add({"page", state_word(console, is_true(page, "listening"), text_of(page, "address"), "NOT SERVED"), "",
               text_of(page, "trouble")});
  const json& store = object_of(status, "store");
  table.add({"records", state_word(console, is_true(store, "writing"), "being written", "NOT BEING WRITTEN"),
             queue_text(store), joined(text_of(store, "trouble"), room_text(console, store))});
  const double lost = number_of(status, "polls_dropped").value_or(0.0);
  if (lost > 0.0)
    table.add({"evaluation", stressed(console, Stress::warning, "TOO SLOW"),
               fmt::format("{:.0f} polls dropped since the start", lost)});
  return table.text();
}

} // namespace oxherd::daemon::cli
