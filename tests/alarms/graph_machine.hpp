#pragma once
// The pure alarm on a clock of ticks: what can be done to it, and its state with dates written as ages, so that there
// are finitely many.
#include <algorithm>
#include <array>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "alarms/alarm.hpp"
#include "tests/alarms/graph_witness.hpp"

namespace oxherd::alarms_graph_test {

using alarms::Act;
using alarms::Alarm;
using alarms::AlarmState;
using alarms::AlarmStep;
using alarms::Channel;
using alarms::Monotonic;
using alarms::Quality;

inline constexpr Monotonic tick{1000};
/// Every state is kept as if it were this time now.
inline constexpr Monotonic noon = 1000 * tick;

inline char letter_of(alarms::State state) { return "ABCDEFGHI"[static_cast<int>(state)]; }

inline Alarm alarm_for(bool safety, bool latching, bool acknowledge_required) {
  return {alarms::Limit{alarms::Direction::low, 19.5, 0.5, on_delay * tick, off_delay * tick},
          {.priority = acknowledge_required ? alarms::Priority::high : alarms::Priority::low,
           .safety = safety,
           .latching = latching,
           .acknowledge_required = acknowledge_required,
           .reannounce_after = reannounce_after * tick,
           .shelve_at_most = shelve_at_most * tick,
           .silence_for = silence_for * tick,
           .out_of_service_at_most = service_at_most * tick,
           .test_at_most = test_at_most * tick}};
}

inline AlarmStep evaluated(const Alarm& alarm, const AlarmState& state, const Witness& witness, bool fresh,
                           Monotonic now) {
  static const std::array<Channel, 4> channels{Channel{Quality::good, 19.0, 0.0}, Channel{Quality::good, 19.75, 0.0},
                                               Channel{Quality::uncertain, 20.9, 0.0}, Channel{}};
  const auto& channel = channels[static_cast<std::size_t>(witness.sample)];
  alarms::RuleInput in{{&channel, 1}, alarms::Scheme::one_of_one, true, fresh};
  in.in_force = witness.in_force;
  return alarms::evaluate(alarm, state, in, now);
}

/// The same state, dated as if `now` were noon. Ages beyond the longest timer count as that; what is over is just over.
inline AlarmState at_noon(AlarmState state, Monotonic now) {
  const auto dated = [now](Monotonic& date) { date = std::max(date - now, -oldest * tick) + noon; };
  const auto due = [now](std::optional<Monotonic>& date) {
    if (date) date = std::max(*date - now, Monotonic{0}) + noon;
  };
  auto& rule = std::get<alarms::LimitState>(state.rule);
  dated(rule.since);
  rule.tripped[1] = rule.tripped[2] = false; // there is one channel; a restart fills in all three
  dated(state.standing.since);
  due(state.standing.shelved_until);
  due(state.standing.out_of_service_until);
  due(state.standing.silenced_until);
  if (state.test) {
    dated(state.test->since);
    state.test->until = std::max(state.test->until - now, Monotonic{0}) + noon;
  }
  state.chatter = {}; // that it changes nothing is a check of its own
  return state;
}

/// One thing that can happen.
struct Move {
  enum class Kind { clock, sample, act, design, regime, restart };
  std::string name;
  Kind kind = Kind::clock;
  Sample sample = Sample::bad;
  Act act = Act::acknowledge;
  int duration = 0;
  std::string_view reason{};
  bool on = false;           ///< what the design logic says, or whether the regime has the alarm in force
  int away = 0;              ///< how long the program was not running
  bool time_unknown = false; ///< nobody knows how long
};

inline const std::vector<Move>& all_moves() {
  using enum Act;
  using enum Move::Kind;
  static const std::vector<Move> moves = [] {
    std::vector<Move> all{{.name = "clock"}};
    for (const auto& [name, s] : {std::pair{"beyond", Sample::beyond},
                                  {"inside", Sample::inside},
                                  {"clear", Sample::clear},
                                  {"bad", Sample::bad}})
      all.push_back({.name = name, .kind = sample, .sample = s});
    const auto person = [&](Act what, int duration = 0, std::string_view reason = {}) {
      all.push_back(
          {.name = std::string{name_of(what)}, .kind = act, .act = what, .duration = duration, .reason = reason});
    };
    for (const Act what : {acknowledge, silence, reset, unshelve, return_to_service, end_test}) person(what);
    for (const Act what : {shelve, shelve_once}) {
      person(what, shelve_at_most, "door work");
      person(what, shelve_at_most, " ");
      person(what, shelve_at_most + 1, "door work");
    }
    person(shelve, 0, "door work");
    person(remove_from_service, service_at_most, "new cell");
    person(remove_from_service, service_at_most, "");
    person(remove_from_service, service_at_most + 1, "new cell");
    person(remove_from_service, 0, "new cell");
    person(test, test_at_most);
    person(test, test_at_most + 1);
    person(test, on_delay);
    all.push_back({.name = "design_on", .kind = design, .on = true});
    all.push_back({.name = "design_off", .kind = design, .on = false});
    all.push_back({.name = "regime_in_force", .kind = regime, .on = true});
    all.push_back({.name = "regime_not_in_force", .kind = regime, .on = false});
    for (const int away : {0, 1}) all.push_back({.name = "restart", .kind = restart, .away = away});
    all.push_back({.name = "restart_after_unknown_time", .kind = restart, .time_unknown = true});
    return all;
  }();
  return moves;
}

} // namespace oxherd::alarms_graph_test
