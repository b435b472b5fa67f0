#include <optional>

#include <fmt/core.h>
#include <nlohmann/json.hpp>

#include "alarms/annunciation.hpp"
#include "alarms/texts.hpp"
#include "daemon/cli/alarm_lines.hpp"
#include "daemon/cli/answer.hpp"
#include "daemon/cli/command.hpp"
#include "daemon/cli/login.hpp"
#include "daemon/cli/text.hpp"

// acknowledge, silence and reset: three names for one thing, an act of a named person on alarms.

namespace oxherd::daemon::cli {
namespace {

using alarms::Act;
using nlohmann::json;

std::vector<Option> act_options() {
  return {{"--room", "ROOM", "every alarm of this room that the act applies to", "cryo-annexe"},
          {"--by", "NAME", "who does it, for the journal (default: your login name)", "R. Okafor"},
          {"--comment", "TEXT", "why, for the journal", "valve V3 closed, fan on"},
          state_dir_option(),
          json_option()};
}

bool applies(Act act, const json& alarm) {
  switch (act) { // no default: a new act must not compile until it is handled here
  case Act::acknowledge: return waits_for_acknowledgement(alarm);
  case Act::silence: return is_true(alarm, "sounding");
  case Act::reset: return text_of(alarm, "state") == name_of(alarms::State::latched_acknowledged);
  }
  return false;
}

tl::expected<std::vector<InRoom>, AnswerError> targets_in_room(Act act, const std::string& room,
                                                               const std::filesystem::path& state_dir) {
  const auto result = ask(state_dir, {{"command", "alarms"}});
  if (!result) return tl::unexpected(result.error());
  std::vector<InRoom> out;
  bool known = false;
  for (const auto& alarm : list_of(*result, "alarms")) {
    if (text_of(alarm, "room") != room) continue;
    known = true;
    if (applies(act, alarm)) out.push_back({room, text_of(alarm, "alarm")});
  }
  if (!known)
    return tl::unexpected(AnswerError{failed, fmt::format("there is no room \"{}\" with alarms", printable(room))});
  return out;
}

/// Does one act after the other and prints what became of each; the gravest exit code.
int act_on(Act act, const std::vector<InRoom>& targets, const Arguments& arguments, const std::string& author,
           Console& console) {
  int exit = fine;
  bool any = targets.empty(); // "nothing to do" was printed
  auto done = json::array();
  for (const auto& target : targets) {
    const auto name = fmt::format("{}/{}", target.room, target.name);
    const auto result = ask(state_dir_of(arguments), {{"command", "act"},
                                                      {"act", name_of(act)},
                                                      {"room", target.room},
                                                      {"alarm", target.name},
                                                      {"author", author},
                                                      {"comment", arguments.value_or("--comment", "")}});
    done.push_back({{"room", target.room}, {"alarm", target.name}, {"ok", result.has_value()}});
    if (!result) {
      done.back()["error"] = result.error().what;
      exit = std::max(exit, report(console, name_of(act),
                                   {result.error().exit, fmt::format("{}: {}", printable(name), result.error().what)}));
      if (result.error().exit == no_daemon) break; // the others would say the same
      continue;
    }
    any = true;
    if (!arguments.given("--json"))
      console.out << fmt::format("{}: {} by {}\n", printable(name), name_of(act), printable(author));
  }
  if (arguments.given("--json"))
    console.out << json_text_of({{"acts", done}, {"caution", alarms::caution_short()}});
  else if (any)
    console.out << '\n' << wrapped(alarms::caution_short(), 100, 0) << '\n';
  return exit;
}

int run_act(Act act, const Arguments& arguments, Console& console) {
  const auto wrong = [&](const std::string& what) { return report(console, name_of(act), {usage, what}); };
  const auto author = arguments.value_or("--by", login_name());
  if (author.find_first_not_of(' ') == std::string::npos)
    return wrong("--by is missing: the journal needs the name of a person");
  std::vector<InRoom> targets;
  for (const auto& word : arguments.positional()) {
    const auto target = in_room(word);
    if (!target)
      return wrong(fmt::format("\"{}\" is not ROOM/ALARM, such as cryo-annexe/low-oxygen; `oxherd alarms` lists them",
                               printable(word)));
    targets.push_back(*target);
  }
  const auto room = arguments.value("--room");
  if (room && !targets.empty()) return wrong("ROOM/ALARM and --room exclude each other");
  if (!room && targets.empty()) return wrong("name at least one ROOM/ALARM, or a whole room with --room");
  if (room) {
    const auto found = targets_in_room(act, *room, state_dir_of(arguments));
    if (!found) return report(console, name_of(act), found.error());
    targets = *found;
    if (targets.empty() && !arguments.given("--json"))
      console.out << fmt::format("nothing to {} in {}\n", name_of(act), printable(*room));
  }
  return act_on(act, targets, arguments, author, console);
}

template <Act act> int run_this(const Arguments& arguments, Console& console) {
  return run_act(act, arguments, console);
}

} // namespace

const Command acknowledge_entry{
    "acknowledge",
    "says for the journal that a person has seen an alarm",
    "Acknowledges alarms in the name of a person. It stops their sound, never their condition: the alarm stands until "
    "the "
    "condition ends, the relay of a safety alarm stays dropped, and a latched alarm must then be reset at the room.",
    "ROOM/ALARM...",
    "oxherd acknowledge cryo-annexe/low-oxygen --by \"R. Okafor\" --comment \"left the room, fan on\"\n"
    "oxherd acknowledge --room pear-store-2",
    act_options,
    run_this<Act::acknowledge>};

const Command silence_entry{"silence",
                            "stops the sound of an alarm for a few minutes, nothing else",
                            "Stops the sound of alarms for this occurrence and for ten minutes at most. Their state "
                            "does not change; a new alarm, or "
                            "the same one recurring, sounds again.",
                            "ROOM/ALARM...",
                            "oxherd silence cryo-annexe/low-oxygen\n"
                            "oxherd silence --room cryo-annexe --by \"R. Okafor\"",
                            act_options,
                            run_this<Act::silence>};

const Command reset_entry{
    "reset",
    "ends a latched alarm after its condition has ended and was acknowledged",
    "Resets latched alarms. The daemon refuses while the condition is present or not acknowledged. Inspect the room "
    "first.",
    "ROOM/ALARM...",
    "oxherd reset cryo-annexe/low-oxygen --by \"R. Okafor\" --comment \"inspected, 20.9 % on the portable monitor\"",
    act_options,
    run_this<Act::reset>};

} // namespace oxherd::daemon::cli
