#include "daemon/cli/console.hpp"

#include <cstdlib>
#include <iostream>
#include <unistd.h>

namespace oxherd::daemon::cli {

std::string stressed(const Console& console, Stress stress, std::string_view text) {
  if (!console.colour || stress == Stress::none) return std::string{text};
  // Red for an alarm, amber for a warning, as ISO 3864 has them.
  const std::string_view start = stress == Stress::alarm ? "\x1b[1;31m" : "\x1b[1;33m";
  return std::string{start} + std::string{text} + "\x1b[0m";
}

Console process_console() {
  const char* no_colour = std::getenv("NO_COLOR"); // set and not empty: no colour, whatever its value
  const char* term = std::getenv("TERM");
  const bool wanted = no_colour == nullptr || *no_colour == '\0';
  const bool able = term != nullptr && std::string_view{term} != "dumb" && isatty(STDOUT_FILENO) == 1;
  return Console{std::cout, std::cerr, wanted && able, able};
}

} // namespace oxherd::daemon::cli
