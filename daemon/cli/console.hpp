#pragma once

#include <ostream>
#include <string>
#include <string_view>

namespace oxherd::daemon::cli {

/// Exit codes of every command; exit_codes.hpp says of each what it means.
enum Exit : int { fine = 0, failed = 1, usage = 2, no_daemon = 3, refused = 4, marked = 5, cut_short = 6 };

/// Where a command writes, and what can be done with colours and the cursor there.
struct Console {
  std::ostream& out;
  std::ostream& err;
  bool colour = false;  ///< `out` is a terminal that knows more than plain lines, and NO_COLOR is not set
  bool redraws = false; ///< `out` is a terminal on which the cursor can be moved
};

/// How a word is stressed: `none` for what is as it should be, `warning` for what needs a person in time, `alarm` for
/// what needs one now. Colour never carries the meaning alone: the words say it too.
enum class Stress { none, warning, alarm };

/// The text, in bold and colour where the console shows colour.
[[nodiscard]] std::string stressed(const Console& console, Stress stress, std::string_view text);

/// The console of this process: standard output and error.
[[nodiscard]] Console process_console();

} // namespace oxherd::daemon::cli
