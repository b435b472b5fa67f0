#pragma once

#include <map>
#include <set>
#include <utility>

#include "config/notify_settings.hpp"
#include "daemon/notify/message.hpp"
#include "daemon/notify/route_tests.hpp"

namespace oxherd::daemon::notify {

using alarms::Monotonic;

/// Delays run on `mono`; rotas, quiet hours and digests on `wall`.
struct Now {
  Monotonic mono{0};
  WallTime wall;
};

/// One annunciation on its way up the ladder of its priority, from the annunciation until the alarm is normal again.
struct Climb {
  Facts facts;
  Monotonic since{0};     ///< of the annunciation
  Monotonic last_step{0}; ///< when somebody was told last; for the repetitions
  std::size_t steps_done = 0;
  bool answered = false;    ///< acknowledged: no step is taken any more
  bool return_told = false; ///< that the condition ended
  std::vector<Sent> sent;   ///< to whom; the latest of each contact stay
  friend bool operator==(const Climb&, const Climb&) = default;
};

/// Something to tell that may wait and be merged.
struct Waiting {
  std::string contact;
  Kind kind = Kind::alarm;
  Facts facts;
  unsigned step = 0;
  friend bool operator==(const Waiting&, const Waiting&) = default;
};

/// Everything that is remembered. A value: it is kept over a restart and handed on over a reload.
struct State {
  using Key = std::pair<std::string, std::string>; ///< room, alarm
  std::map<Key, Climb> climbs;
  std::vector<Waiting> waiting;
  std::map<std::string, Monotonic> merged_at; ///< when a contact got the last message of those that may wait
  std::vector<Facts> digest;                  ///< came since the last one
  std::optional<config::LocalMinutes> digest_day;
  RouteTests tests;
  std::int64_t last_number = 0;
  std::string id_stem; ///< what every id begins with
  friend bool operator==(const State&, const State&) = default;
};

struct Step {
  State state;
  std::vector<Message> messages;
};

/// An alarm as it is now: after a transition, an act, a start or a reload. Saying the same twice tells nobody twice.
[[nodiscard]] Step next(const config::Notify& settings, State state, const Facts& facts, Now now);
/// The alarm is no longer in the settings.
[[nodiscard]] Step next_removed(const config::Notify& settings, State state, const std::string& room,
                                const std::string& alarm, Now now);
/// A route fails, or works again where `words` is empty. Everyone with another route is told of a failure.
[[nodiscard]] Step next_trouble(const config::Notify& settings, State state, const std::string& route,
                                const std::string& words, Now now);
/// Tests the routes of one contact now, or of all where `contact` is empty.
[[nodiscard]] Step next_test(const config::Notify& settings, State state, const std::string& contact, Now now);
/// Lets time pass: steps, repetitions, what waited, digests, route tests.
[[nodiscard]] Step next(const config::Notify& settings, State state, Now now);

/// The latest at which `next` must be called again when nothing happens before.
[[nodiscard]] Monotonic due(const config::Notify& settings, const State& state, Now now);

/// Who is told of a step: contacts, those on duty of rotas, and where a rota has nobody on duty all that it names,
/// because somebody must be told.
[[nodiscard]] std::vector<std::string> reached_by(const config::Notify& settings, const std::vector<std::string>& to,
                                                  WallTime at);

} // namespace oxherd::daemon::notify
