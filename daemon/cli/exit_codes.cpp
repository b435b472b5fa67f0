#include "daemon/cli/exit_codes.hpp"

#include <array>

namespace oxherd::daemon::cli {
namespace {

constexpr std::array all_codes{fine, failed, usage, no_daemon, refused, marked, cut_short};

} // namespace

std::span<const Exit> exit_codes() { return all_codes; }

std::string_view meaning_of(Exit code) {
  switch (code) { // no default: a new code must not compile until it is explained here
  case fine: return "it went well";
  case failed: return "what was asked for failed, or problems were found";
  case usage: return "the command line is wrong";
  case no_daemon: return "no daemon answers";
  case refused: return "the daemon refused the act, and said why";
  case marked: return "it was done, but some rows could not be used and are marked";
  case cut_short: return "it was interrupted; the part that was done stands";
  }
  return "";
}

} // namespace oxherd::daemon::cli
