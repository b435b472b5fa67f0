#include "daemon/cli/screen.hpp"

#include <sys/ioctl.h>
#include <unistd.h>

namespace oxherd::daemon::cli {
namespace {

// ECMA-48 and the private modes of DEC's and xterm's terminals, which all of today's follow.
constexpr std::string_view other_page = "\x1b[?1049h";
constexpr std::string_view first_page = "\x1b[?1049l";
constexpr std::string_view hide_cursor = "\x1b[?25l";
constexpr std::string_view show_cursor = "\x1b[?25h";
constexpr std::string_view plain = "\x1b[0m";
constexpr std::string_view home = "\x1b[H";
constexpr std::string_view clear_rest_of_line = "\x1b[K";
constexpr std::string_view clear_rest = "\x1b[J";

} // namespace

Screen::Screen(std::ostream& to) : to_{to} {
  // A stopped watch would leave its last numbers standing as if they held.
  struct sigaction ignore {};
  ignore.sa_handler = SIG_IGN;
  sigaction(SIGTSTP, &ignore, &before_);
  to_ << other_page << hide_cursor << std::flush;
}

Screen::~Screen() {
  to_ << plain << show_cursor << first_page << std::flush;
  sigaction(SIGTSTP, &before_, nullptr);
}

ScreenSize Screen::size() {
  winsize found{};
  if (ioctl(STDOUT_FILENO, TIOCGWINSZ, &found) != 0 || found.ws_col == 0 || found.ws_row == 0) return {};
  return {found.ws_col, found.ws_row};
}

void Screen::draw(std::string_view lines) { to_ << drawing(lines) << std::flush; }

std::string drawing(std::string_view lines) {
  std::string out{home};
  bool first = true; // no line break after the last one: on the last row it would scroll
  while (!lines.empty()) {
    const auto end = std::min(lines.find('\n'), lines.size());
    if (!first) out += "\r\n";
    first = false;
    out += lines.substr(0, end);
    out += clear_rest_of_line;
    lines.remove_prefix(std::min(end + 1, lines.size()));
  }
  out += plain;
  out += clear_rest;
  return out;
}

} // namespace oxherd::daemon::cli
