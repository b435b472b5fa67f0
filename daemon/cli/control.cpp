#include <array>

#include <fmt/core.h>
#include <nlohmann/json.hpp>

#include "alarms/texts.hpp"
#include "compensation/units.hpp"
#include "daemon/cli/acts.hpp"
#include "daemon/cli/answer.hpp"
#include "daemon/cli/command.hpp"
#include "daemon/cli/control_text.hpp"
#include "daemon/cli/login.hpp"
#include "daemon/cli/loop_report_text.hpp"
#include "daemon/cli/text.hpp"
#include "daemon/control_socket/control_request.hpp"

namespace oxherd::daemon::cli {
namespace {

using nlohmann::json;

std::vector<Option> control_options() {
  return {
      {"--do",
       "ORDER",
       "start or end a run, hold an output by hand, automatic (give it back), release what an interlock stopped; "
       "with ROOM/LOOP: program-start, program-stop, program-hold, program-resume, tune, end-tuning, "
       "begin-report",
       "start",
       true,
       {"start", "end", "hold", "automatic", "release", "program-start", "program-stop", "program-hold",
        "program-resume", "tune", "end-tuning", "begin-report"}},
      {"--at", "PERCENT", "for hold: the output", "100%"},
      {"--for", "DURATION",
       "for hold and tune, 8 h at most, and program-hold (default: 30 min, 2 h, and until it is resumed)", "10min"},
      {"--low", "VALUE", "for tune: the least value that the loop may swing to, with its unit", "18degC"},
      {"--high", "VALUE", "for tune: the greatest one", "26degC"},
      {"--output", "LOW..HIGH",
       "for tune: the two levels of the output (default: evenly around that of now, within the settings)", "20%..60%"},
      {"--hysteresis", "DISTANCE",
       "for tune: to each side of the set-point, more than noise (default: a fifth of the default of "
       "switch_on_beyond)",
       "0.1K"},
      {"--because", "TEXT", "why, for the journal; must be given for start, hold, release and tune", "store is loaded"},
      {"--by", "NAME", "who orders it, for the journal (default: your login name)", "R. Okafor"},
      {"--report", "",
       "how a loop performed since the start or since begin-report: of ROOM/LOOP, else of all of ROOM or of all", ""},
      state_dir_option(),
      json_option()};
}

int print_rooms(const json& rooms, const Arguments& arguments, Console& console) {
  if (arguments.given("--json")) {
    console.out << json_text_of({{"rooms", rooms}, {"caution", alarms::caution_short()}});
    return fine;
  }
  for (const auto& room : rooms)
    console.out << text_of(room, "room") << '\n' << control_text(console, list_of(room, "control")) << '\n';
  console.out << wrapped(alarms::caution_short(), 100, 0) << '\n';
  return fine;
}

int show(const Arguments& arguments, Console& console) {
  const auto result = ask(state_dir_of(arguments), {{"command", "status"}});
  if (!result) return report(console, "control", result.error());
  const auto wanted = arguments.positional().empty() ? std::string{} : arguments.positional().front();
  auto rooms = json::array();
  for (const auto& room : list_of(*result, "rooms"))
    if ((wanted.empty() && !list_of(room, "control").empty()) || text_of(room, "room") == wanted)
      rooms.push_back({{"room", text_of(room, "room")}, {"control", list_of(room, "control")}});
  if (rooms.empty() && !wanted.empty())
    return report(console, "control", {failed, fmt::format("there is no room \"{}\"", printable(wanted))});
  if (rooms.empty() && !arguments.given("--json"))
    console.out << "nothing is controlled: the settings have no output of kind \"actuator\"\n";
  return print_rooms(rooms, arguments, console);
}

/// How the loops performed that are named by ROOM/LOOP, ROOM or nothing.
int show_reports(const Arguments& arguments, Console& console) {
  const auto result = ask(state_dir_of(arguments), {{"command", "status"}});
  if (!result) return report(console, "control", result.error());
  const auto wanted = arguments.positional().empty() ? std::string{} : arguments.positional().front();
  auto loops = json::array();
  for (const auto& room : list_of(*result, "rooms"))
    for (const auto& actuator : list_of(room, "control")) {
      json loop = object_of(actuator, "loop");
      const auto name = text_of(room, "room");
      if (loop.empty() || !(wanted.empty() || wanted == name || wanted == name + "/" + text_of(loop, "loop"))) continue;
      loop["room"] = name;
      loops.push_back(std::move(loop));
    }
  if (loops.empty())
    return report(console, "control",
                  {failed, wanted.empty() ? std::string{"the settings have no loop"}
                                          : fmt::format("there is no loop \"{}\": give ROOM/LOOP", printable(wanted))});
  if (arguments.given("--json")) {
    console.out << json_text_of({{"loops", loops}, {"caution", alarms::caution_short()}});
    return fine;
  }
  for (const auto& loop : loops) console.out << loop_report_text(text_of(loop, "room"), loop) << '\n';
  return fine;
}

constexpr std::array tuning_options{"--low", "--high", "--output", "--hysteresis"};

/// Adds what a tuning experiment is asked for; what is wrong, or empty.
std::string add_tuning(const Arguments& arguments, json& request) {
  for (const char* option : {"--low", "--high", "--hysteresis"})
    if (arguments.given(option)) request[option + 2] = arguments.value_or(option, "");
  if (!arguments.given("--output")) return {};
  const auto typed = arguments.value_or("--output", "");
  const auto dots = typed.find("..");
  if (dots == std::string::npos) return "--output: give two levels, such as 20%..60%";
  const auto low = compensation::parse_quantity(typed.substr(0, dots), compensation::Dimension::ratio);
  const auto high = compensation::parse_quantity(typed.substr(dots + 2), compensation::Dimension::ratio);
  if (!low || !high) return "--output: " + (low ? high : low).error().message;
  request["output_low"] = *low;
  request["output_high"] = *high;
  return {};
}

bool is_of_a_loop(std::string_view act) {
  return act.starts_with("program-") || act == "tune" || act == "end-tuning" || act == "begin-report";
}

/// What the socket is asked, or what is wrong with the command line.
tl::expected<json, std::string> order_of(const Arguments& arguments, const std::string& act) {
  if (arguments.positional().size() != 1)
    return tl::unexpected(std::string{"--do needs one OUTPUT, such as pear-nitrogen, or ROOM/LOOP for a loop"});
  json request{{"command", "control"}, {"act", act}, {"comment", arguments.value_or("--because", "")}};
  const auto target = arguments.positional().front();
  if (is_of_a_loop(act)) {
    const auto slash = target.find('/');
    if (slash == std::string::npos)
      return tl::unexpected(fmt::format("{} needs ROOM/LOOP, such as growth-chamber-1/temperature", act));
    request["room"] = target.substr(0, slash);
    request["loop"] = target.substr(slash + 1);
  } else
    request["output"] = target;
  if (act == "hold") {
    const auto typed = arguments.given("--at") ? arguments.value_or("--at", "") : std::string{};
    const auto fraction = compensation::parse_quantity(typed, compensation::Dimension::ratio);
    if (!fraction) return tl::unexpected("--at: " + fraction.error().message);
    request["fraction"] = *fraction;
  } else if (arguments.given("--at"))
    return tl::unexpected(std::string{"--at belongs to --do hold"});
  for (const char* option : tuning_options)
    if (act != "tune" && arguments.given(option)) return tl::unexpected(fmt::format("{} belongs to --do tune", option));
  if (auto problem = add_tuning(arguments, request); !problem.empty()) return tl::unexpected(std::move(problem));
  if (act == "hold" || arguments.given("--for")) {
    const auto seconds = for_option(arguments, "30min");
    if (!seconds) return tl::unexpected(seconds.error());
    request["duration_s"] = *seconds;
  }
  return request;
}

int order(const Arguments& arguments, Console& console) {
  const auto wrong = [&](const std::string& what) { return report(console, "control", {usage, what}); };
  const auto author = arguments.value_or("--by", login_name());
  if (!is_somebody(author)) return wrong("--by is missing: the journal needs the name of a person");
  auto request = order_of(arguments, arguments.value_or("--do", ""));
  if (!request) return wrong(request.error());
  (*request)["author"] = author;
  const auto result = ask(state_dir_of(arguments), *request);
  if (!result) {
    auto error = result.error();
    if (error.what.starts_with("say why") || error.what.starts_with("say what")) error.what += ", with --because";
    return report(console, "control", error);
  }
  if (!is_true(*result, "recorded")) console.err << not_recorded_text("the order");
  return print_rooms(json::array({{{"room", text_of(*result, "room")}, {"control", list_of(*result, "control")}}}),
                     arguments, console);
}

int run_control(const Arguments& arguments, Console& console) {
  if (arguments.given("--do") && arguments.given("--report"))
    return report(console, "control", {usage, "--do and --report exclude each other"});
  if (arguments.given("--do")) return order(arguments, console);
  for (const char* option : {"--at", "--for", "--because", "--by", "--low", "--high", "--output", "--hysteresis"})
    if (arguments.given(option)) return report(console, "control", {usage, fmt::format("{} belongs to --do", option)});
  return arguments.given("--report") ? show_reports(arguments, console) : show(arguments, console);
}

} // namespace

const Command control_entry{
    "control",
    "shows what actuators and loops do and why, or gives them an order",
    "An interlock goes before a person, a person before a loop. No order works an actuator past an interlock: what "
    "blocks it is told instead. A purge or a scrubber is started by a person, and whatever ends it ends it for good: "
    "look at the room from outside, release what was stopped, and start it anew. To tune a loop makes its value swing "
    "a "
    "little around its set-point, within limits that must be given, and proposes parameters for the settings; "
    "whatever else decides the output ends it. That a purge is off, or a room is "
    "aired, does not mean that its air may be breathed: test it, and follow the entry procedure.",
    "[ROOM | OUTPUT | ROOM/LOOP]",
    "oxherd control pear-store-2\n"
    "oxherd control pear-nitrogen --do start --because \"pull-down after loading\" --by \"R. Okafor\"\n"
    "oxherd control bay-vents --do hold --at 100% --for 20min --because \"heat after cleaning\"\n"
    "oxherd control pear-nitrogen --do release --because \"door seal mended\"\n"
    "oxherd control growth-chamber-1/temperature --do program-hold --for 2h --because \"trial\"\n"
    "oxherd control growth-chamber-1/temperature --do tune --low 20degC --high 26degC --because \"new heater\"\n"
    "oxherd control growth-chamber-1/temperature --report",
    control_options,
    run_control};

} // namespace oxherd::daemon::cli
