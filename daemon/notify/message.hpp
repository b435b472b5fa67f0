#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "alarms/annunciation.hpp"
#include "daemon/reading_basis.hpp"

namespace oxherd::daemon::notify {

/// What the shortest form of a message says besides numbers.
enum class About { low_oxygen, high_carbon_dioxide, not_monitored, other };

/// What is known of one alarm when people are told of it.
struct Facts {
  std::string room, alarm;
  alarms::State state = alarms::State::normal;
  alarms::Priority priority = alarms::Priority::high;
  bool safety = true;
  bool present = false;
  bool first_out = false;
  bool chattering = false;
  bool test = false; ///< simulated by a person
  About about = About::other;
  WallTime raised; ///< last annunciation
  std::optional<double> value, expanded, limit;
  std::string unit;                   ///< of these three, as in records
  std::string value_text, limit_text; ///< for a person, with their unit; empty when there is none
  std::string text;                   ///< the whole message for a person, with the response
  friend bool operator==(const Facts&, const Facts&) = default;
};

[[nodiscard]] inline bool are_of_one_alarm(const Facts& a, const Facts& b) {
  return a.room == b.room && a.alarm == b.alarm;
}
/// Never merged, delayed nor held back by quiet hours.
[[nodiscard]] inline bool cannot_wait(const Facts& f) {
  return f.safety || f.priority == alarms::Priority::critical || f.about == About::not_monitored;
}

enum class Kind {
  alarm,      ///< an annunciation, or the next step of its ladder
  returned,   ///< its condition ended
  hidden,     ///< it was shelved or taken out of service: nobody will be warned
  digest,     ///< what of low priority came in a day
  route_test, ///< to be answered by a person
  trouble     ///< people may not be reached
};
[[nodiscard]] std::string_view name_of(Kind kind);

/// An earlier message to the same contact about the same alarm.
struct Sent {
  std::string contact, id;
  WallTime at;
  friend bool operator==(const Sent&, const Sent&) = default;
};

/// One message to one contact.
struct Message {
  std::string id;          ///< unique for ever; receivers tell a second delivery by it
  std::int64_t number = 0; ///< grows by one
  Kind kind = Kind::alarm;
  std::string contact;
  WallTime at;
  unsigned step = 0;         ///< of the ladder, from 1; 0: none
  std::vector<Facts> alarms; ///< the first one leads; none for route tests and troubles
  std::vector<Sent> earlier; ///< that this one takes further
  std::string only_route;    ///< by this route alone; empty: by all of the contact's
  std::string not_by;        ///< not by this one, which fails
  std::string words;         ///< of troubles
};
[[nodiscard]] inline bool cannot_wait(const Message& m) {
  if (m.kind == Kind::trouble) return true;
  for (const auto& f : m.alarms)
    if (cannot_wait(f)) return true;
  return false;
}
[[nodiscard]] inline bool is_test(const Message& m) {
  return m.kind == Kind::route_test || (!m.alarms.empty() && m.alarms.front().test);
}

} // namespace oxherd::daemon::notify
