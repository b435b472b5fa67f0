#include "daemon/room/standstill.hpp"

#include <algorithm>

#include <fmt/core.h>

#include "alarms/suppression.hpp"

namespace oxherd::daemon {
namespace {

using alarms::Monotonic;

constexpr Monotonic pause_at_least{std::chrono::minutes{5}};
constexpr Monotonic stands_at_least{std::chrono::minutes{30}};
constexpr int polls_at_least = 60, changes_at_least = 30, times_longer = 10;

Monotonic whole_seconds(Monotonic t) { return std::chrono::floor<std::chrono::seconds>(t); }

} // namespace

Standstill next(Standstill state, double raw, Monotonic at) {
  const bool first = state.polls == 0 || at - state.last >= pause_at_least;
  if (!first && raw == state.raw) {
    state.last = at;
    ++state.polls;
    return state;
  }
  if (!first) {
    ++state.changes;
    // What was stuck says nothing about how long numbers stand here.
    if (!is_stuck(state, {})) state.longest = std::max(state.longest, state.last - state.since);
  }
  state.raw = raw;
  state.since = state.last = at;
  state.polls = 1;
  return state;
}

bool is_stuck(const Standstill& state, const config::StuckAfter& settings) {
  const auto stood = state.last - state.since;
  if (settings.never || state.raw == 0.0 || state.polls < 2) return false;
  if (settings.stated) return stood >= *settings.stated;
  return stood >= stands_at_least && state.polls >= polls_at_least && state.changes >= changes_at_least &&
         stood >= times_longer * state.longest;
}

std::string stuck_text(const std::string& point, const Standstill& state) {
  return fmt::format("{}: stuck, the same number for {} ({} polls){}: look at the input, the device and any gateway "
                     "that may answer from memory",
                     point, alarms::in_words(whole_seconds(state.last - state.since)), state.polls,
                     state.changes == 0 ? ""
                                        : fmt::format(", and never for longer than {} before",
                                                      alarms::in_words(whole_seconds(state.longest))));
}

} // namespace oxherd::daemon
