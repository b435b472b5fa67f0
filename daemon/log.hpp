#pragma once

#include <cstdint>

#include <fmt/core.h>

/// Log lines. One .cpp includes spdlog; everyone else pays for fmt only. Under journald every line carries its priority
/// as `<N>`, otherwise a time stamp. Never blocks while started: when stderr is stuck, the oldest lines are dropped,
/// counted, and reported once stderr takes lines again. Before start and after stop a line goes straight to stderr.
/// Every function may be called from any thread. Line feeds and other control characters of a message become spaces.
namespace oxherd::daemon::log {

enum class Level { debug, info, warning, error };

void start(Level lowest);
void stop();                           ///< flushes, for at most a second
[[nodiscard]] std::uint64_t dropped(); ///< lines lost since the process began because stderr did not take them
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
