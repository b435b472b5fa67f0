// Leaving out the evaluations before `due` must change nothing against evaluating at every tick, whatever the rule.
#include <array>
#include <cstdint>
#include <random>
#include <vector>

#include <gtest/gtest.h>

#include "alarms/due.hpp"

namespace oxherd::alarms_due_test {

using namespace alarms;
using namespace std::chrono_literals;

constexpr Monotonic beat = 500ms;

struct Happened {
  Monotonic at{0};
  State to = State::normal;
  Cause cause = Cause::condition;
  friend bool operator==(const Happened&, const Happened&) = default;
};

/// One alarm with the times at which it was evaluated and what came of it.
struct Keeper {
  AlarmState state;
  std::vector<Happened> happened;
  Monotonic evaluated{0};
  int evaluations = 0;

  void evaluate(const Alarm& alarm, const RuleInput& in, Monotonic now) {
    const bool chattered = state.chatter.chattering;
    auto step = alarms::evaluate(alarm, std::move(state), in, now);
    state = std::move(step.state);
    if (chattered && !state.chatter.chattering) happened.push_back({now, shown(state.standing), Cause::timer});
    for (const auto& t : step.transitions) happened.push_back({now, t.to, t.cause});
    evaluated = now;
    ++evaluations;
  }
  bool is_due(const Alarm& alarm, Monotonic now) const {
    const auto at = due(alarm, state, evaluated);
    return at && *at <= now;
  }
  void act(const Alarm& alarm, Act what, Monotonic now) {
    if (auto step = alarms::act(alarm, state, {what, 7s, "why"}, now)) state = std::move(step->state);
  }
};

class Course {
public:
  explicit Course(std::uint64_t seed) : engine_{seed} {
    alarm_.annunciation = {.safety = once_in(2), .latching = once_in(2), .acknowledge_required = !once_in(4)};
    alarm_.annunciation.reannounce_after = 9s;
    alarm_.rule = rule();
    every_.state = sparse_.state = initial(alarm_, now_);
    channel_ = {Quality::good, 20.0, 0.1, now_};
    for (Keeper* keeper : {&every_, &sparse_}) keeper->evaluate(alarm_, input(true), now_);
  }
  void run() {
    for (int i = 0; i < 120; ++i) step();
    if (every_.evaluated != sparse_.evaluated) sparse_.evaluate(alarm_, input(false), every_.evaluated);
  }
  const Keeper& every() const { return every_; }
  const Keeper& sparse() const { return sparse_; }

private:
  int roll(int n) { return std::uniform_int_distribution<int>{0, n - 1}(engine_); }
  bool once_in(int n) { return roll(n) == 0; }

  Rule rule() {
    const Limit limit{once_in(2) ? Direction::low : Direction::high, 20.0, 0.3, 250ms * roll(20), 250ms * roll(20)};
    switch (roll(8)) {
    case 0: return NotMonitored{1s, 1s};
    case 1: return Degraded{1s, 1s, 20s};
    case 2: return RateOfFall{{Direction::high, 0.5, 0.1, 1s, 1s}, 10s};
    case 3: return TimeAverage{limit, 60s};
    case 4: return Disagreement{{Direction::high, 0.5, 0.1, 1s, 2s}};
    case 5: return Deviation{{Direction::high, 0.5, 0.1, 1s, 2s}, 20.0};
    default: return limit;
    }
  }
  RuleInput input(bool fresh) const {
    RuleInput in;
    in.channels = {&channel_, 1};
    in.monitored = channel_.quality != Quality::bad;
    in.vote_health = health_;
    in.new_sample = fresh;
    return in;
  }
  /// Time passes to the next sample; each keeper has its ticks on the same grid.
  void step() {
    // Now and then long enough for the end of chattering.
    const Monotonic next = now_ + 100ms * (once_in(80) ? 6100 + roll(100) : once_in(15) ? roll(400) : roll(25));
    for (Monotonic tick = (now_ / beat + 1) * beat; tick < next; tick += beat) {
      every_.evaluate(alarm_, input(false), tick);
      if (sparse_.is_due(alarm_, tick)) sparse_.evaluate(alarm_, input(false), tick);
    }
    now_ = next;
    every_.evaluate(alarm_, input(false), now_);
    if (sparse_.is_due(alarm_, now_)) sparse_.evaluate(alarm_, input(false), now_);
    if (once_in(6)) act();
    channel_ = {once_in(8) ? Quality::bad : Quality::good, 20.0 + 0.1 * (roll(16) - 8), 0.05 * roll(3), now_};
    if (once_in(10)) health_ = static_cast<VoteHealth>(roll(3));
    every_.evaluate(alarm_, input(true), now_);
    sparse_.evaluate(alarm_, input(true), now_);
  }
  void act() {
    constexpr std::array acts{Act::acknowledge,         Act::reset, Act::silence, Act::shelve,
                              Act::remove_from_service, Act::test};
    const Act what = acts.at(static_cast<std::size_t>(roll(static_cast<int>(acts.size()))));
    every_.act(alarm_, what, now_);
    sparse_.act(alarm_, what, now_);
  }

  std::mt19937_64 engine_;
  Alarm alarm_;
  Channel channel_;
  VoteHealth health_ = VoteHealth::full;
  Monotonic now_{0};
  Keeper every_, sparse_;
};

TEST(Due, LeavesOutOnlyEvaluationsThatWouldChangeNothing) {
  int evaluations = 0, left_out = 0;
  std::size_t transitions = 0;
  for (std::uint64_t seed = 1; seed <= 150; ++seed) {
    SCOPED_TRACE(seed);
    Course course{seed};
    course.run();
    ASSERT_EQ(course.sparse().happened, course.every().happened);
    ASSERT_EQ(course.sparse().state, course.every().state);
    evaluations += course.every().evaluations;
    left_out += course.every().evaluations - course.sparse().evaluations;
    transitions += course.every().happened.size();
  }
  EXPECT_GT(transitions, 1500U) << "the courses must be eventful";
  EXPECT_GT(left_out, evaluations / 4) << "and leaving out must save something";
}

TEST(Due, NamesTheEndOfTheOnDelay) {
  const Alarm alarm{Limit{Direction::low, 19.5, 0.2, 3s, 10s}, {}};
  auto state = initial(alarm, 0ms);
  EXPECT_FALSE(due(alarm, state, 0ms));
  const Channel low{Quality::good, 19.0, 0.0, 1s};
  RuleInput in;
  in.channels = {&low, 1};
  state = evaluate(alarm, state, in, 1s).state;
  EXPECT_EQ(due(alarm, state, 1s), Monotonic{4s});
  state = evaluate(alarm, state, in, 4s).state;
  EXPECT_FALSE(due(alarm, state, 4s)) << "unacknowledged and present: only a sample or a person changes it";
}

} // namespace oxherd::alarms_due_test
