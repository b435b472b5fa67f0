#include <fmt/core.h>
#include <nlohmann/json.hpp>

#include "alarms/texts.hpp"
#include "daemon/cli/acts.hpp"
#include "daemon/cli/answer.hpp"
#include "daemon/cli/command.hpp"
#include "daemon/cli/login.hpp"
#include "daemon/cli/text.hpp"

namespace oxherd::daemon::cli {
namespace {

using nlohmann::json;

std::vector<Option> prove_options() {
  return {{"--for", "DURATION", "how long it warns, 3 s to 60 s (default: 10 s)", "20 s"},
          {"--result",
           "WORD",
           "what was seen and heard of the test: worked or failed",
           "worked",
           true,
           {"worked", "failed"}},
          {"--by", "NAME", "who does it, for the journal (default: your login name)", "R. Okafor"},
          {"--comment", "TEXT", "what was seen, for the journal", "heard at both doors"},
          state_dir_option(),
          json_option()};
}

int run_prove(const Arguments& arguments, Console& console) {
  const auto wrong = [&](const std::string& what) { return report(console, "prove", {usage, what}); };
  if (arguments.positional().size() != 1) return wrong("name one OUTPUT; `oxherd status` lists them");
  const auto author = arguments.value_or("--by", login_name());
  if (!is_somebody(author)) return wrong("--by is missing: the journal needs the name of a person");
  const auto step = arguments.value_or("--result", "begin");
  if (arguments.given("--result") && step != "worked" && step != "failed")
    return wrong(fmt::format("--result is worked or failed, not \"{}\"", printable(step)));
  if (arguments.given("--result") && arguments.given("--for")) return wrong("--result and --for exclude each other");
  json request{{"command", "prove"},
               {"output", arguments.positional().front()},
               {"step", step},
               {"author", author},
               {"comment", arguments.value_or("--comment", "")}};
  if (step == "begin") {
    const auto seconds = for_option(arguments, "10 s");
    if (!seconds) return wrong(seconds.error());
    request["duration_s"] = *seconds;
  }
  auto result = ask(state_dir_of(arguments), request);
  if (!result) return report(console, "prove", result.error());
  if (!is_true(*result, "recorded"))
    console.err << "NOT RECORDED YET: the store does not take it at present; look at `oxherd status`\n";
  if (arguments.given("--json")) {
    (*result)["caution"] = alarms::caution_short();
    console.out << json_text_of(*result);
    return fine;
  }
  console.out << wrapped(text_of(object_of(*result, "proof"), "text"), 100, 0) << '\n';
  if (step == "begin")
    console.out << wrapped(
                       fmt::format("Go and look. Then say what you saw: oxherd prove {} --result worked (or failed)",
                                   printable(arguments.positional().front())),
                       100, 0)
                << '\n';
  console.out << '\n' << wrapped(alarms::caution_short(), 100, 0) << '\n';
  return fine;
}

} // namespace

const Command prove_entry{
    "prove",
    "drives a relay, horn or beacon to warn, and records what a person saw of it",
    "Drives one output to warn for a time: a relay off, a horn sounding, a beacon flashing. The device must confirm "
    "both the warning and its end; whether anybody could see or hear it only a person can say, with --result. Both are "
    "kept in the journal, marked as a test. A real alarm ends the test and takes the output over. A test without an "
    "answer within ten minutes proves nothing.",
    "OUTPUT",
    "oxherd prove site-horn --by \"R. Okafor\" --for 20s\n"
    "oxherd prove site-horn --result worked --by \"R. Okafor\" --comment \"heard at both doors\"",
    prove_options,
    run_prove};

} // namespace oxherd::daemon::cli
