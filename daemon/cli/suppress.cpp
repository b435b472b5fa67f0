#include "daemon/cli/acts.hpp"
#include "daemon/cli/answer.hpp"
#include "daemon/cli/command.hpp"

// shelve, unshelve, remove-from-service and return-to-service: what hides an alarm from people, and the way back.

namespace oxherd::daemon::cli {
namespace {

using alarms::Act;

Option for_(std::string help, std::string example) {
  return {"--for", "DURATION", std::move(help), std::move(example)};
}

std::vector<Option> shelve_options() {
  return act_options({for_("how long, at most what the alarm permits (default: 1 h)", "30 min"),
                      {"--once", "", "it also ends when the condition does", ""}});
}
std::vector<Option> remove_options() {
  return act_options({for_("how long, at most what the alarm permits; must be given", "2 h")});
}
std::vector<Option> lift_options() { return act_options(); }

int run_shelve(const Arguments& arguments, Console& console) {
  const auto seconds = for_option(arguments, "1 h");
  if (!seconds) return report(console, "shelve", {usage, seconds.error()});
  return run_act({arguments.given("--once") ? Act::shelve_once : Act::shelve, "shelve", *seconds}, arguments, console);
}

int run_remove(const Arguments& arguments, Console& console) {
  if (!arguments.given("--for"))
    return report(console, "remove-from-service", {usage, "--for is missing: say how long, for example --for \"2 h\""});
  const auto seconds = for_option(arguments, "");
  if (!seconds) return report(console, "remove-from-service", {usage, seconds.error()});
  return run_act({Act::remove_from_service, "remove-from-service", *seconds}, arguments, console);
}

int run_unshelve(const Arguments& arguments, Console& console) {
  return run_act({Act::unshelve, "unshelve"}, arguments, console);
}
int run_return(const Arguments& arguments, Console& console) {
  return run_act({Act::return_to_service, "return-to-service"}, arguments, console);
}

} // namespace

const Command shelve_entry{
    "shelve",
    "hides a process alarm for a time, with a reason",
    "Shelves alarms: they stay out of the list of what needs a person until the time is over, and are announced anew "
    "if "
    "their condition then stands. An alarm of class \"safety\" cannot be shelved. --comment is the reason and must be "
    "given.",
    "ROOM/ALARM...",
    "oxherd shelve pear-store-2/low-oxygen --for \"30 min\" --comment \"fruit being loaded\"\n"
    "oxherd shelve bay-3/high-co2 --once --comment \"dosing trial\" --by \"R. Okafor\"",
    shelve_options,
    run_shelve};

const Command unshelve_entry{"unshelve",
                             "ends the shelving of an alarm before its time",
                             "Ends shelving. A condition that stands is announced anew.",
                             "ROOM/ALARM...",
                             "oxherd unshelve pear-store-2/low-oxygen",
                             lift_options,
                             run_unshelve};

const Command remove_from_service_entry{
    "remove-from-service",
    "takes an alarm out of service for work, with a reason and a time",
    "Takes alarms out of service: nobody is warned by them until the time is over or they are returned. A room whose "
    "safety alarm is out of service counts as not monitored, and its relay drops: use a certified monitor meanwhile. "
    "--comment is the reason and must be given.",
    "ROOM/ALARM...",
    "oxherd remove-from-service cryo-annexe/low-oxygen --for \"2 h\" --comment \"cell C is being replaced\"",
    remove_options,
    run_remove};

const Command return_to_service_entry{"return-to-service",
                                      "puts an alarm back into service",
                                      "Puts alarms back into service. A condition that stands is announced anew.",
                                      "ROOM/ALARM...",
                                      "oxherd return-to-service cryo-annexe/low-oxygen --comment \"cell replaced\"",
                                      lift_options,
                                      run_return};

} // namespace oxherd::daemon::cli
