#include "daemon/cli/acts.hpp"
#include "daemon/cli/answer.hpp"
#include "daemon/cli/command.hpp"

namespace oxherd::daemon::cli {
namespace {

using alarms::Act;

std::vector<Option> test_options() {
  return act_options({{"--for", "DURATION", "how long the condition is simulated (default: 1 min)", "2 min"},
                      {"--end", "", "ends the test that runs", ""}});
}

int run_test(const Arguments& arguments, Console& console) {
  if (arguments.given("--end")) {
    if (arguments.given("--for")) return report(console, "test-alarm", {usage, "--end and --for exclude each other"});
    return run_act({Act::end_test, "end of test"}, arguments, console);
  }
  const auto seconds = for_option(arguments, "1 min");
  if (!seconds) return report(console, "test-alarm", {usage, seconds.error()});
  return run_act({Act::test, "test-alarm", *seconds}, arguments, console);
}

} // namespace

const Command test_alarm_entry{
    "test-alarm",
    "simulates the condition of an alarm, so that its whole route can be seen to work",
    "Simulates the condition of alarms for a time: after the on-delay they are announced like real ones, marked TEST "
    "everywhere, with sound, relay and messages. The samples are judged meanwhile; a real condition ends the test and "
    "is "
    "announced as new. Afterwards acknowledge, and reset what has latched.",
    "ROOM/ALARM...",
    "oxherd test-alarm cryo-annexe/low-oxygen --by \"R. Okafor\" --comment \"monthly test\"\n"
    "oxherd test-alarm cryo-annexe/low-oxygen --end",
    test_options,
    run_test};

} // namespace oxherd::daemon::cli
