#include <nlohmann/json.hpp>

#include "alarms/texts.hpp"
#include "daemon/cli/alarm_lines.hpp"
#include "daemon/cli/answer.hpp"
#include "daemon/cli/command.hpp"
#include "daemon/cli/text.hpp"

namespace oxherd::daemon::cli {
namespace {

std::vector<Option> alarms_options() {
  return {{"--room", "ROOM", "only the alarms of this room", "cryo-annexe"},
          {"--all", "", "also those that are normal", ""},
          state_dir_option(),
          json_option()};
}

/// The alarms of one room, or all of them when `room` is empty.
nlohmann::json of_room(const nlohmann::json& alarms, const std::string& room) {
  auto out = nlohmann::json::array();
  for (const auto& alarm : alarms)
    if (room.empty() || text_of(alarm, "room") == room) out.push_back(alarm);
  return out;
}

int run_alarms(const Arguments& arguments, Console& console) {
  auto result = ask(state_dir_of(arguments), {{"command", "alarms"}});
  if (!result) return report(console, "alarms", result.error());
  const auto shown = of_room(list_of(*result, "alarms"), arguments.value_or("--room", ""));
  if (arguments.given("--json")) {
    if (result->is_object()) (*result)["alarms"] = shown;
    console.out << json_text_of(*result);
    return fine;
  }
  std::size_t normal = 0;
  for (const auto& alarm : shown) {
    if (is_normal(alarm)) ++normal;
    if (!is_normal(alarm) || arguments.given("--all"))
      console.out << alarm_lines(console, alarm, text_of(*result, "now"), 0);
  }
  if (shown.empty())
    console.out << "There is no such alarm: `oxherd check` lists those of the settings.\n";
  else if (normal == shown.size())
    console.out << "No alarm stands: " << counted(normal, "alarm") << " normal.\n";
  else
    console.out << counted(normal, "alarm") << " normal.\n";
  console.out << '\n' << wrapped(alarms::caution_short(), 100, 0) << '\n';
  return fine;
}

} // namespace

const Command alarms_entry{"alarms",
                           "the alarms that stand, unacknowledged first, with what to do",
                           "Lists every alarm that is not normal, the unacknowledged first, then by priority and age, "
                           "shelved and out-of-service ones included.",
                           "",
                           "oxherd alarms\n"
                           "oxherd alarms --room cryo-annexe --all",
                           alarms_options,
                           run_alarms};

} // namespace oxherd::daemon::cli
