#include <fmt/core.h>
#include <nlohmann/json.hpp>

#include "alarms/texts.hpp"
#include "daemon/cli/answer.hpp"
#include "daemon/cli/command.hpp"
#include "daemon/cli/login.hpp"
#include "daemon/cli/table.hpp"
#include "daemon/cli/text.hpp"

namespace oxherd::daemon::cli {
namespace {

using nlohmann::json;

std::vector<Option> notify_options() {
  return {{"--contact", "NAME", "test: only the routes of this contact", "okafor"},
          {"--by", "NAME", "answer: who answers (default: your login name)", "R. Okafor"},
          state_dir_option(),
          json_option()};
}

std::string count_of(const json& object, std::string_view key) {
  return fmt::format("{:.0f}", number_of(object, key).value_or(0.0));
}

std::string test_text(const json& test) {
  auto out = fmt::format("test {} by {}", count_of(test, "number"), text_of(test, "route"));
  const auto by = text_of(test, "answered_by");
  if (!by.empty()) return out + fmt::format(": answered by {}, {}", by, local_time_of(test, "answered"));
  return out + (is_true(test, "missed") ? ": NOT ANSWERED" : ": waits for an answer");
}

std::string overview(const json& notify) {
  Table routes{2};
  routes.add({"route", "kind", "state", "waiting", "delivered", "given up", "last delivered", "trouble"});
  for (const auto& route : list_of(notify, "routes"))
    routes.add({text_of(route, "route"), text_of(route, "kind"),
                is_true(route, "failing")           ? "FAILS"
                : text_of(route, "trouble").empty() ? "works"
                                                    : "tries again",
                count_of(route, "waiting"), count_of(route, "delivered"), count_of(route, "given_up"),
                local_time_of(route, "last_delivered"), text_of(route, "trouble")});
  Table contacts{2};
  contacts.add({"contact", "name", "last delivered", "last test"});
  for (const auto& contact : list_of(notify, "contacts")) {
    std::string tests;
    for (const auto& test : list_of(contact, "tests")) tests += (tests.empty() ? "" : "; ") + test_text(test);
    contacts.add({text_of(contact, "contact"), text_of(contact, "name"), local_time_of(contact, "last_delivered"),
                  tests.empty() ? "none yet" : tests});
  }
  std::string out =
      "Routes (delivered and given up since the start)\n" + routes.text() + "\nContacts\n" + contacts.text() + '\n';
  const json& watcher = object_of(notify, "watcher");
  if (!is_true(watcher, "configured"))
    out += "No watcher: nobody outside learns when Oxherd falls silent.\n";
  else
    out += fmt::format("Watcher: {}, last heartbeat taken {}\n",
                       text_of(watcher, "trouble").empty() ? "takes the heartbeat" : text_of(watcher, "trouble"),
                       local_time_of(watcher, "last_taken"));
  out += fmt::format("{} alarms on their way up a ladder, {} to be told, {} messages not delivered yet\n",
                     count_of(notify, "unanswered"), count_of(notify, "to_be_told"), count_of(notify, "waiting"));
  for (const auto& trouble : list_of(notify, "troubles"))
    if (trouble.is_string()) out += fmt::format("TROUBLE: {}\n", printable(trouble.get_ref<const std::string&>()));
  return out;
}

int print(const Arguments& arguments, Console& console, const json& result, const std::string& text) {
  if (arguments.given("--json"))
    console.out << json_text_of(result);
  else
    console.out << text << '\n' << wrapped(alarms::caution_short(), 100, 0) << '\n';
  return fine;
}

int run_test(const Arguments& arguments, Console& console) {
  const auto result = ask(state_dir_of(arguments),
                          {{"command", "notify"}, {"what", "test"}, {"contact", arguments.value_or("--contact", "")}});
  if (!result) return report(console, "notify", result.error());
  std::string text;
  for (const auto& test : list_of(*result, "tests"))
    text += fmt::format("test {} to {} by {}: answer it with `oxherd notify answer {}`\n", count_of(test, "number"),
                        text_of(test, "contact"), text_of(test, "route"), count_of(test, "number"));
  return print(arguments, console, *result, text.empty() ? "no route there is read by a person\n" : text);
}

int run_answer(const Arguments& arguments, Console& console) {
  const auto& words = arguments.positional();
  const auto number = words.size() == 2 ? whole_number(words[1]) : std::nullopt;
  if (!number) return report(console, "notify", {usage, "answer needs the number of the test, such as: answer 17"});
  const auto author = arguments.value_or("--by", login_name());
  if (!is_somebody(author))
    return report(console, "notify", {usage, "--by is missing: the record needs the name of a person"});
  const auto result = ask(state_dir_of(arguments),
                          {{"command", "notify"}, {"what", "answer"}, {"number", *number}, {"author", author}});
  if (!result) return report(console, "notify", result.error());
  return print(arguments, console, *result,
               fmt::format("test {} to {} by {}: answered by {}\n", count_of(*result, "number"),
                           text_of(*result, "contact"), text_of(*result, "route"), text_of(*result, "answered_by")));
}

int run_notify(const Arguments& arguments, Console& console) {
  const auto& words = arguments.positional();
  const std::string first = words.empty() ? "" : words.front();
  if (first == "answer") return run_answer(arguments, console);
  if (words.size() > 1 || (!first.empty() && first != "test"))
    return report(
        console, "notify",
        {usage, fmt::format("\"{}\" is nothing to do here: test, or answer NUMBER", printable(words.back()))});
  if (first == "test") return run_test(arguments, console);
  const auto result = ask(state_dir_of(arguments), {{"command", "notify"}});
  if (!result) return report(console, "notify", result.error());
  return print(arguments, console, *result, overview(*result));
}

} // namespace

const Command notify_entry{
    "notify",
    "who is told of alarms and by which route; tests the routes",
    "Lists routes and contacts with what was delivered last, what waits, what fails, and the last test of each route "
    "with its answer. `test` sends a test alarm by every route that a person reads; `answer` says that it was read. A "
    "test that nobody answers is reported to everyone.",
    "[test | answer NUMBER]",
    "oxherd notify\n"
    "oxherd notify test --contact okafor\n"
    "oxherd notify answer 17 --by \"R. Okafor\"",
    notify_options,
    run_notify};

} // namespace oxherd::daemon::cli
