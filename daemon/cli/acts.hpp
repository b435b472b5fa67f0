#pragma once

#include <string>
#include <vector>

#include "alarms/annunciation.hpp"
#include "daemon/cli/arguments.hpp"
#include "daemon/cli/console.hpp"

namespace oxherd::daemon::cli {

/// What an act of a named person on alarms asks for besides the alarms themselves.
struct ActAsked {
  alarms::Act act = alarms::Act::acknowledge;
  std::string command; ///< as typed, for messages
  double duration_s = 0.0;
};

/// ROOM/ALARM... or --room, --by, --comment and what every command has; then `more` of the command's own.
[[nodiscard]] std::vector<Option> act_options(std::vector<Option> more = {});
/// --for, a duration; refused when it cannot be read.
[[nodiscard]] tl::expected<double, std::string> for_option(const Arguments& arguments, std::string_view otherwise);

/// Does one act on every alarm that the command line names, and prints what became of each; the gravest exit code.
[[nodiscard]] int run_act(const ActAsked& asked, const Arguments& arguments, Console& console);

} // namespace oxherd::daemon::cli
