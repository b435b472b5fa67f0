// Walks every short sequence of samples and acts and holds each step against the promises of an alarm.
#include <array>
#include <set>
#include <string>

#include <gtest/gtest.h>

#include "alarms/alarm.hpp"
#include "alarms/suppression.hpp"

namespace oxherd::alarms_walk_test {

using namespace alarms;
using namespace std::chrono_literals;
using enum State;

enum class Move { low, inside, clear, bad, acknowledge, reset, suppress_or_lift };
constexpr std::array moves{Move::low,         Move::inside, Move::clear,           Move::bad,
                           Move::acknowledge, Move::reset,  Move::suppress_or_lift};
constexpr char letter(Move move) { return "licbars"[static_cast<int>(move)]; }

constexpr Monotonic on_delay = 1s, off_delay = 1s, beat = 1s;
constexpr int depth = 7;

/// Rows of the table of legal transitions that an evaluation or an act may take.
bool is_legal(const Transition& t, const Annunciation& a) {
  switch (t.cause) {
  case Cause::condition: return t.from != unacknowledged && t.from != acknowledged && t.to == unacknowledged;
  case Cause::returned:
    if (t.from == acknowledged) return t.to == (a.latching ? latched_acknowledged : normal);
    if (t.from != unacknowledged) return false;
    if (a.latching) return t.to == latched_unacknowledged;
    return t.to == (a.acknowledge_required ? returned_to_normal_unacknowledged : normal);
  case Cause::acknowledge:
    return (t.from == unacknowledged && t.to == acknowledged) ||
           (t.from == returned_to_normal_unacknowledged && t.to == normal) ||
           (t.from == latched_unacknowledged && t.to == latched_acknowledged);
  case Cause::reset: return t.from == latched_acknowledged && t.to == normal;
  case Cause::re_annunciation:
  case Cause::timer: // neither falls due within a walk
  case Cause::shelve:
  case Cause::suppression:
  case Cause::service:
  case Cause::test: return false;
  }
  return false;
}

/// What the walk itself remembers, to judge the alarm by. Nothing here is taken from the alarm's own state.
struct Witness {
  Move sample = Move::bad;              ///< the sample that holds
  std::optional<Monotonic> low_since;   ///< a low sample, then nothing but low and bad ones
  std::optional<Monotonic> clear_since; ///< good samples beyond the deadband without a break
  bool owed = false;                    ///< announced and since then neither acknowledged nor suppressed
};

class Walk {
public:
  explicit Walk(Annunciation annunciation)
      : alarm_{Limit{Direction::low, 19.5, 0.5, on_delay, off_delay}, annunciation} {}

  void run() { go_on(initial(alarm_, 0s), {}, 0); }
  const std::string& broken() const { return broken_; }
  const std::set<State>& entered() const { return entered_; }
  const std::set<State>& left() const { return left_; }
  long steps() const { return steps_; }

private:
  void go_on(const AlarmState& state, const Witness& witness, int step) {
    if (step == depth) return;
    for (const Move move : moves) {
      if (!broken_.empty()) return;
      path_[static_cast<std::size_t>(step)] = letter(move);
      AlarmState next_state = state;
      Witness next_witness = witness;
      take(move, next_state, next_witness, beat * (step + 1));
      if (!broken_.empty())
        broken_ += " after " + path_.substr(0, static_cast<std::size_t>(step) + 1);
      else
        go_on(next_state, next_witness, step + 1);
    }
  }

  void take(Move move, AlarmState& state, Witness& w, Monotonic now) {
    ++steps_;
    const State before = shown(state.standing);
    if (move == Move::suppress_or_lift) suppress_or_lift(state, w, now);
    if (move == Move::acknowledge || move == Move::reset) person(move, state, w, now);
    if (move <= Move::bad) sampled(move, w, now);
    const State between = shown(state.standing);

    const AlarmStep step =
        evaluate(alarm_, state, {{&channel(w.sample), 1}, Scheme::one_of_one, true, move <= Move::bad}, now);
    state = step.state;
    for (const auto& t : step.transitions) {
      if (!is_legal(t, alarm_.annunciation)) broken_ = "illegal transition";
      if (t.cause == Cause::returned) judge_return(w, now);
    }
    for (const auto& t : step.beneath)
      if (t.cause == Cause::returned) judge_return(w, now);
    if (shown(state.standing) == unacknowledged && between != unacknowledged) w.owed = true;
    judge(move, before, state, w, now);
    remember(before, shown(state.standing));
  }

  void suppress_or_lift(AlarmState& state, Witness& w, Monotonic now) {
    const auto& a = alarm_.annunciation;
    Standing& s = state.standing;
    const State before = shown(s);
    // Safety alarms can only be taken out of service; the others take turns through all three ways.
    const auto way = a.safety ? 2 : (now / beat) % 3;
    if (s.shelved_until)
      s = *unshelve(a, s, now);
    else if (s.suppressed_by_design)
      s = *suppress_by_design(a, s, false, now);
    else if (s.out_of_service_until)
      s = *return_to_service(a, s, now);
    else if (way == 0)
      s = *shelve(a, s, 1h, "walk", now);
    else if (way == 1)
      s = *suppress_by_design(a, s, true, now);
    else
      s = *remove_from_service(a, s, 1h, "walk", now);
    w.owed = shown(s) == unacknowledged; // whoever suppresses it, with a reason, has seen it
    remember(before, shown(s));
  }

  void person(Move move, AlarmState& state, Witness& w, Monotonic now) {
    const auto step = act(alarm_, state, {move == Move::reset ? Act::reset : Act::acknowledge}, now);
    if (!step) return;
    for (const auto& t : step->transitions) {
      if (!is_legal(t, alarm_.annunciation)) broken_ = "illegal act";
      remember(t.from, t.to);
    }
    state = step->state;
    if (move == Move::acknowledge) w.owed = false;
  }

  static void sampled(Move move, Witness& w, Monotonic now) {
    w.sample = move;
    if (move == Move::low && !w.low_since) w.low_since = now;
    if (move == Move::inside || move == Move::clear) w.low_since.reset();
    if (move == Move::clear && !w.clear_since) w.clear_since = now;
    if (move != Move::clear) w.clear_since.reset();
  }

  void judge_return(const Witness& w, Monotonic now) {
    if (!w.clear_since || now - *w.clear_since < off_delay) broken_ = "returned without good samples for the off-delay";
  }

  void judge(Move move, State before, const AlarmState& state, const Witness& w, Monotonic now) {
    const Standing& s = state.standing;
    const State seen = shown(s);
    if (s.present != (s.beneath == unacknowledged || s.beneath == acknowledged))
      broken_ = "condition and state disagree";
    if (w.low_since && now - *w.low_since >= on_delay) {
      if (!s.present) broken_ = "a condition that stands for the on-delay is not decided";
      if (seen != unacknowledged && seen != acknowledged && !is_suppressed(s)) broken_ = "it is not announced";
      if (!drops_relay(s)) broken_ = "it does not drop the relay";
    }
    if (is_suppressed(s) && seen != shelved && seen != suppressed_by_design && seen != out_of_service)
      broken_ = "a suppression is not shown";
    if (move == Move::bad && before != normal && seen == normal) broken_ = "bad data led to normal";
    if (w.owed && seen == normal && alarm_.annunciation.acknowledge_required) broken_ = "an acknowledgement was lost";
    if (w.owed && seen == acknowledged) broken_ = "nobody acknowledged";
    if (sounds(s, now) != (seen == unacknowledged || seen == latched_unacknowledged)) broken_ = "sound";
  }

  void remember(State from, State to) {
    if (from == to) return;
    left_.insert(from);
    entered_.insert(to);
  }

  static const Channel& channel(Move sample) {
    static const std::array<Channel, 4> channels{Channel{Quality::good, 19.0, 0.0}, Channel{Quality::good, 19.75, 0.0},
                                                 Channel{Quality::uncertain, 20.9, 0.0}, Channel{}};
    return channels[static_cast<std::size_t>(sample)];
  }

  Alarm alarm_;
  std::string path_ = std::string(depth, ' ');
  std::string broken_;
  std::set<State> entered_, left_;
  long steps_ = 0;
};

void expect_promises(const Annunciation& annunciation, const std::set<State>& states) {
  Walk walk{annunciation};
  walk.run();
  EXPECT_EQ(walk.broken(), "");
  EXPECT_EQ(walk.steps(), (823543L * 7 - 7) / 6); // 7 moves, up to 7 steps
  EXPECT_EQ(walk.entered(), states);
  EXPECT_EQ(walk.left(), states) << "every state has an exit";
}

TEST(EveryShortSequence, KeepsThePromisesOfASafetyAlarm) {
  expect_promises({.safety = true, .latching = true},
                  {normal, unacknowledged, acknowledged, latched_unacknowledged, latched_acknowledged, out_of_service});
}

TEST(EveryShortSequence, KeepsThePromisesOfAProcessAlarm) {
  expect_promises({.safety = false, .latching = false},
                  {normal, unacknowledged, acknowledged, returned_to_normal_unacknowledged, shelved,
                   suppressed_by_design, out_of_service});
}

TEST(EveryShortSequence, KeepsThePromisesOfALatchingProcessAlarm) {
  expect_promises({.safety = false, .latching = true},
                  {normal, unacknowledged, acknowledged, latched_unacknowledged, latched_acknowledged, shelved,
                   suppressed_by_design, out_of_service});
}

TEST(EveryShortSequence, KeepsThePromisesOfAnAlarmThatNeedsNoAcknowledgement) {
  expect_promises({.priority = Priority::low, .safety = false, .latching = false, .acknowledge_required = false},
                  {normal, unacknowledged, acknowledged, shelved, suppressed_by_design, out_of_service});
}

} // namespace oxherd::alarms_walk_test
