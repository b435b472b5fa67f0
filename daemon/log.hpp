#pragma once

#include <string>

#include <fmt/core.h>

/// Log lines. One .cpp includes spdlog; everyone else pays for fmt only. Under journald every line carries its priority
/// as `<N>`, otherwise a time stamp. Never blocks: when stderr is stuck, lines are dropped and counted.
namespace oxherd::daemon::log {

enum class Level { debug, info, warning, error };

void start(Level lowest);
void stop(); ///< flushes, for at most a second
void write(Level level, fmt::string_view format, fmt::format_args args);

template <class... A> void debug(fmt::format_string<A...> f, A&&... a) {
  write(Level::debug, f, fmt::make_format_args(a...));
}
template <class... A> void info(fmt::format_string<A...> f, A&&... a) {
  write(Level::info, f, fmt::make_format_args(a...));
}
template <class... A> void warning(fmt::format_string<A...> f, A&&... a) {
  write(Level::warning, f, fmt::make_format_args(a...));
}
template <class... A> void error(fmt::format_string<A...> f, A&&... a) {
  write(Level::error, f, fmt::make_format_args(a...));
}

} // namespace oxherd::daemon::log
