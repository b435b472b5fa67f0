// The journal alone says where an alarm stands: whatever happens to it, its transitions in order lead from the state at
// the start to the state that is shown.
#include <array>
#include <cstdint>
#include <cstdlib>
#include <optional>
#include <random>
#include <set>
#include <string>
#include <vector>

#include <gtest/gtest.h>

#include "alarms/alarm.hpp"
#include "alarms/suppression.hpp"

namespace oxherd::alarms_journal_test {

using namespace alarms;
using namespace std::chrono_literals;

/// An alarm, everything that may befall it, and the journal that its keeper writes meanwhile.
class Life {
public:
  explicit Life(std::uint64_t seed) : engine_{seed} {
    Annunciation& a = alarm_.annunciation;
    a = {.safety = once_in(3), .latching = once_in(2), .acknowledge_required = !once_in(4)};
    a.reannounce_after = 10s;
    a.shelve_at_most = a.out_of_service_at_most = a.test_at_most = 15s;
    if (once_in(4))
      alarm_.rule = NotMonitored{1s, 1s};
    else
      alarm_.rule = Limit{once_in(2) ? Direction::low : Direction::high, 19.5, 0.5, 1s, 1s};
    state_ = initial(alarm_, now_);
  }

  void live_on() {
    now_ += 250ms * roll(once_in(20) ? 80 : 5);
    if (once_in(3))
      act_once();
    else if (once_in(12))
      design_logic(once_in(2));
    else if (once_in(25))
      restart();
    else
      sample();
    seen_.insert(shown(state_.standing));
  }

  /// What somebody reads who has the journal and nothing else; nothing where it has a gap.
  std::optional<State> read_journal() const {
    State state = State::normal;
    for (const auto& t : journal_) {
      if (t.from != state) return std::nullopt;
      state = t.to;
    }
    return state;
  }
  State truth() const { return shown(state_.standing); }
  const std::set<State>& seen() const { return seen_; }
  std::size_t length() const { return journal_.size(); }

private:
  int roll(int sides) { return static_cast<int>(engine_() % static_cast<std::uint64_t>(sides)); }
  bool once_in(int sides) { return roll(sides) == 0; }

  void write(const std::vector<Transition>& transitions) {
    journal_.insert(journal_.end(), transitions.begin(), transitions.end());
  }

  void sample() {
    if (once_in(4)) mood_ = roll(4);
    for (Channel& c : channels_) {
      c = {Quality::good, std::array{19.0, 19.5, 20.0, 20.9}[static_cast<std::size_t>(once_in(3) ? roll(4) : mood_)],
           0.1};
      if (once_in(8)) c.quality = once_in(2) ? Quality::uncertain : Quality::bad;
    }
    const auto step = evaluate(alarm_, state_, {channels_, Scheme::two_of_three, !once_in(3), true}, now_);
    state_ = step.state;
    write(step.transitions);
  }

  void act_once() {
    constexpr std::array acts{Act::acknowledge,
                              Act::acknowledge,
                              Act::silence,
                              Act::reset,
                              Act::shelve,
                              Act::shelve_once,
                              Act::unshelve,
                              Act::test,
                              Act::remove_from_service,
                              Act::return_to_service,
                              Act::end_test};
    const auto step = act(alarm_, state_, {acts[static_cast<std::size_t>(roll(11))], 1s * roll(17), "why"}, now_);
    if (!step) return;
    state_ = step->state;
    write(step->transitions);
  }

  /// The suppressing logic is no part of the alarm: who lets it speak writes down what that changed.
  void design_logic(bool on) {
    const State before = truth();
    const auto after = suppress_by_design(alarm_.annunciation, state_.standing, on, now_);
    if (after) state_.standing = *after;
    if (truth() != before) write({{before, truth(), Cause::suppression}});
  }

  /// Design suppression ends with the program, and so does a test that was acknowledged; the record of the restart says
  /// what is shown then. Nothing else may change.
  void restart() {
    const State before = truth();
    const bool tested = state_.simulated && before == State::acknowledged;
    const Recorded record = recorded(state_, now_);
    now_ = 1ms * roll(100000);
    state_ = restored(alarm_, record, now_);
    if (before == State::suppressed_by_design || tested) write({{before, truth(), Cause::suppression}});
  }

  std::mt19937_64 engine_;
  Alarm alarm_;
  AlarmState state_;
  Monotonic now_{5s};
  std::array<Channel, 3> channels_{};
  int mood_ = 0;
  std::vector<Transition> journal_;
  std::set<State> seen_;
};

TEST(Journal, AloneTellsWhatIsShownWhateverHappens) {
  const char* given = std::getenv("OXHERD_SEED");
  const std::uint64_t seed = given != nullptr ? std::strtoull(given, nullptr, 10) : 1;
  SCOPED_TRACE("repeat with OXHERD_SEED=" + std::to_string(seed));
  std::set<State> seen;
  std::size_t length = 0;
  for (std::uint64_t number = 0; number < 1500; ++number) {
    Life life{seed * 1000003 + number};
    for (int step = 0; step < 300; ++step) life.live_on();
    ASSERT_EQ(life.read_journal(), life.truth()) << "in life " << number;
    seen.insert(life.seen().begin(), life.seen().end());
    length += life.length();
  }
  EXPECT_EQ(seen.size(), 9U) << "every state was among them";
  EXPECT_GT(length, 10000U);
  RecordProperty("transitions", std::to_string(length));
}

} // namespace oxherd::alarms_journal_test
