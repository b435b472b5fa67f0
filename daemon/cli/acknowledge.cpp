#include "daemon/cli/acts.hpp"
#include "daemon/cli/command.hpp"

// acknowledge, silence and reset: the three acts that need nothing but the name of a person.

namespace oxherd::daemon::cli {
namespace {

using alarms::Act;

std::vector<Option> plain_options() { return act_options(); }

template <Act act> int run_plain(const Arguments& arguments, Console& console) {
  return run_act({act, std::string{name_of(act)}}, arguments, console);
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
    plain_options,
    run_plain<Act::acknowledge>};

const Command silence_entry{"silence",
                            "stops the sound of an alarm for a few minutes, nothing else",
                            "Stops the sound of alarms for this occurrence and for ten minutes at most. Their state "
                            "does not change; a new alarm, or "
                            "the same one recurring, sounds again.",
                            "ROOM/ALARM...",
                            "oxherd silence cryo-annexe/low-oxygen\n"
                            "oxherd silence --room cryo-annexe --by \"R. Okafor\"",
                            plain_options,
                            run_plain<Act::silence>};

const Command reset_entry{
    "reset",
    "ends a latched alarm after its condition has ended and was acknowledged",
    "Resets latched alarms. The daemon refuses while the condition is present or not acknowledged. Inspect the room "
    "first.",
    "ROOM/ALARM...",
    "oxherd reset cryo-annexe/low-oxygen --by \"R. Okafor\" --comment \"inspected, 20.9 % on the portable monitor\"",
    plain_options,
    run_plain<Act::reset>};

} // namespace oxherd::daemon::cli
