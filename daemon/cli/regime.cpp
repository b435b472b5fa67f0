#include <fmt/core.h>
#include <nlohmann/json.hpp>

#include "alarms/regime.hpp"
#include "alarms/texts.hpp"
#include "daemon/cli/answer.hpp"
#include "daemon/cli/command.hpp"
#include "daemon/cli/login.hpp"
#include "daemon/cli/regime_lines.hpp"
#include "daemon/cli/table.hpp"
#include "daemon/cli/text.hpp"

namespace oxherd::daemon::cli {
namespace {

using nlohmann::json;

std::vector<Option> regime_options() {
  return {{"--set",
           "REGIME",
           "what it is from now on: occupied, ventilated-before-entry, sealed-low-oxygen, enriched",
           "ventilated-before-entry",
           true,
           {"occupied", "ventilated-before-entry", "sealed-low-oxygen", "enriched"}},
          {"--by", "NAME", "who says so, for the journal (default: your login name)", "R. Okafor"},
          {"--comment", "TEXT", "why; must be given for sealing", "loading begins tomorrow"},
          {"--seen-empty", "", "for sealing: you have seen that the room is empty, locked and signed", ""},
          state_dir_option(),
          json_option()};
}

int print_rooms(const json& rooms, const Arguments& arguments, Console& console) {
  if (arguments.given("--json")) {
    console.out << json_text_of({{"rooms", rooms}, {"caution", alarms::caution_short()}});
    return fine;
  }
  Table table;
  for (const auto& room : rooms)
    table.add({text_of(room, "room"), text_of(room, "regime"), regime_said_by(room), door_words(room),
               entry_lock_words(room)});
  console.out << table.text() << '\n' << wrapped(alarms::caution_short(), 100, 0) << '\n';
  return fine;
}

int show(const Arguments& arguments, Console& console) {
  const auto result = ask(state_dir_of(arguments), {{"command", "status"}});
  if (!result) return report(console, "regime", result.error());
  auto rooms = json::array();
  for (const auto& room : list_of(*result, "rooms")) {
    if (!arguments.positional().empty() && text_of(room, "room") != arguments.positional().front()) continue;
    json shown;
    for (const char* key :
         {"room", "regime", "regime_since", "regime_by", "regime_because", "seal_broken", "door", "entry_lock"})
      if (const auto found = room.find(key); found != room.end()) shown[key] = *found;
    rooms.push_back(std::move(shown));
  }
  if (rooms.empty() && !arguments.positional().empty())
    return report(console, "regime",
                  {failed, fmt::format("there is no room \"{}\"", printable(arguments.positional().front()))});
  return print_rooms(rooms, arguments, console);
}

int set(const Arguments& arguments, Console& console) {
  const auto wrong = [&](const std::string& what) { return report(console, "regime", {usage, what}); };
  if (arguments.positional().size() != 1) return wrong("--set needs one ROOM, such as pear-store-2");
  const auto regime = arguments.value_or("--set", "");
  if (!alarms::regime_named(regime))
    return wrong(fmt::format("\"{}\" is no regime: occupied, ventilated-before-entry, sealed-low-oxygen or enriched",
                             printable(regime)));
  const auto author = arguments.value_or("--by", login_name());
  if (!is_somebody(author)) return wrong("--by is missing: the journal needs the name of a person");
  const auto result = ask(state_dir_of(arguments), {{"command", "regime"},
                                                    {"room", arguments.positional().front()},
                                                    {"regime", regime},
                                                    {"author", author},
                                                    {"comment", arguments.value_or("--comment", "")},
                                                    {"seen_empty", arguments.given("--seen-empty")}});
  if (!result) {
    auto error = result.error();
    if (error.what.find("seen that the room is empty") != std::string::npos) error.what += ", with --seen-empty";
    return report(console, "regime", error);
  }
  if (!is_true(*result, "recorded")) console.err << not_recorded_text("the change");
  return print_rooms(json::array({object_of(*result, "room")}), arguments, console);
}

int run_regime(const Arguments& arguments, Console& console) {
  if (arguments.given("--set")) return set(arguments, console);
  for (const char* option : {"--by", "--comment", "--seen-empty"})
    if (arguments.given(option)) return report(console, "regime", {usage, fmt::format("{} belongs to --set", option)});
  return show(arguments, console);
}

} // namespace

const Command regime_entry{
    "regime",
    "shows how rooms are used, or says that one is sealed, ventilated or occupied from now on",
    "The regime of a room decides which of its alarms are in force. In a room that is sealed at low oxygen the safety "
    "alarms stay out of force until its door opens or somebody says that it is ventilated or occupied. Its entry lock "
    "is withheld until the air has been fresh for long enough; that it is no longer withheld does not mean that the "
    "air may be breathed: test it, and follow the entry procedure.",
    "[ROOM]",
    "oxherd regime\n"
    "oxherd regime pear-store-2 --set ventilated-before-entry --by \"R. Okafor\" --comment \"unloading\"\n"
    "oxherd regime pear-store-2 --set sealed-low-oxygen --seen-empty --comment \"pull-down begins\"",
    regime_options,
    run_regime};

} // namespace oxherd::daemon::cli
