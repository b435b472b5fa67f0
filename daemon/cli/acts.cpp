#include "daemon/cli/acts.hpp"

#include <optional>
#include <utility>

#include <fmt/core.h>
#include <nlohmann/json.hpp>

#include "alarms/texts.hpp"
#include "compensation/units.hpp"
#include "daemon/cli/alarm_lines.hpp"
#include "daemon/cli/answer.hpp"
#include "daemon/cli/login.hpp"
#include "daemon/cli/text.hpp"

namespace oxherd::daemon::cli {
namespace {

using alarms::Act;
using alarms::State;
using nlohmann::json;

bool applies(Act act, const json& alarm) {
  const auto is = [&](State state) { return text_of(alarm, "state") == name_of(state); };
  switch (act) { // no default: a new act must not compile until it is handled here
  case Act::acknowledge: return waits_for_acknowledgement(alarm);
  case Act::silence: return is_true(alarm, "sounding");
  case Act::reset: return is(State::latched_acknowledged);
  case Act::shelve:
  case Act::shelve_once: return !is_true(alarm, "safety") && !is(State::shelved);
  case Act::unshelve: return is(State::shelved);
  case Act::remove_from_service: return !is(State::out_of_service);
  case Act::return_to_service: return is(State::out_of_service);
  case Act::test: return is(State::normal) && !is_true(alarm, "test");
  case Act::end_test: return is_true(alarm, "test");
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
int act_on(const ActAsked& asked, const std::vector<InRoom>& targets, const Arguments& arguments,
           const std::string& author, Console& console) {
  int exit = fine;
  bool any = targets.empty(); // "nothing to do" was printed
  auto done = json::array();
  for (const auto& target : targets) {
    const auto name = fmt::format("{}/{}", target.room, target.name);
    json request{{"command", "act"},     {"act", name_of(asked.act)}, {"room", target.room},
                 {"alarm", target.name}, {"author", author},          {"comment", arguments.value_or("--comment", "")}};
    if (asked.duration_s > 0.0) request["duration_s"] = asked.duration_s;
    const auto result = ask(state_dir_of(arguments), request);
    done.push_back({{"room", target.room}, {"alarm", target.name}, {"ok", result.has_value()}});
    if (result) done.back()["recorded"] = is_true(*result, "recorded");
    if (!result) {
      done.back()["error"] = result.error().what;
      exit = std::max(exit, report(console, asked.command,
                                   {result.error().exit, fmt::format("{}: {}", printable(name), result.error().what)}));
      if (result.error().exit == no_daemon) break; // the others would say the same
      continue;
    }
    any = true;
    if (!is_true(*result, "recorded")) console.err << printable(name) << ": " << not_recorded_text("the act");
    if (!arguments.given("--json"))
      console.out << fmt::format("{}: {} by {}\n", printable(name), asked.command, printable(author));
  }
  if (arguments.given("--json"))
    console.out << json_text_of({{"acts", done}, {"caution", alarms::caution_short()}});
  else if (any)
    console.out << '\n' << wrapped(alarms::caution_short(), 100, 0) << '\n';
  return exit;
}

} // namespace

std::vector<Option> act_options(std::vector<Option> more) {
  std::vector<Option> options{{"--room", "ROOM", "every alarm of this room that the act applies to", "cryo-annexe"},
                              {"--by", "NAME", "who does it, for the journal (default: your login name)", "R. Okafor"},
                              {"--comment", "TEXT", "why, for the journal", "valve V3 closed, fan on"}};
  for (auto& option : more) options.push_back(std::move(option));
  options.push_back(state_dir_option());
  options.push_back(json_option());
  return options;
}

tl::expected<double, std::string> for_option(const Arguments& arguments, std::string_view otherwise) {
  const auto typed = arguments.value_or("--for", otherwise);
  const auto seconds = compensation::parse_quantity(typed, compensation::Dimension::duration);
  if (!seconds) return tl::unexpected("--for: " + seconds.error().message);
  return *seconds;
}

int run_act(const ActAsked& asked, const Arguments& arguments, Console& console) {
  const auto wrong = [&](const std::string& what) { return report(console, asked.command, {usage, what}); };
  const auto author = arguments.value_or("--by", login_name());
  if (!is_somebody(author)) return wrong("--by is missing: the journal needs the name of a person");
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
    const auto found = targets_in_room(asked.act, *room, state_dir_of(arguments));
    if (!found) return report(console, asked.command, found.error());
    targets = *found;
    if (targets.empty() && !arguments.given("--json"))
      console.out << fmt::format("nothing to {} in {}\n", asked.command, printable(*room));
  }
  return act_on(asked, targets, arguments, author, console);
}

} // namespace oxherd::daemon::cli
