// Whatever befalls the alarms of a room - signals, faults, people, reloads, restarts, a clock that jumps - the journal
// alone tells where each of them stands, low oxygen is announced in time, and no delay follows the civil clock.
#include <map>
#include <random>

#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include "tests/daemon/room/annexe.hpp"

namespace oxherd::simulation::alarms_life_test {

using namespace daemon;
using namespace std::chrono_literals;
using alarms::Act;
using alarms::State;
using annexe_test::Annexe;

constexpr std::chrono::seconds poll_period{1};
constexpr std::chrono::milliseconds tick_period{500};

/// What the store keeps: every line of the journal, and each alarm's last snapshot.
struct Records {
  std::vector<AlarmRecord> journal;
  std::map<std::string, AlarmSnapshot> snapshots;

  void keep(const Outcome& outcome) {
    const auto before = static_cast<std::ptrdiff_t>(journal.size());
    for (const auto& news : outcome.alarms) {
      journal.push_back(news.record);
      snapshots[news.record.alarm] = news.snapshot;
    }
    journal.insert(journal.end(), outcome.room_events.begin(), outcome.room_events.end());
    std::sort(journal.begin() + before, journal.end(),
              [](const AlarmRecord& a, const AlarmRecord& b) { return a.sequence < b.sequence; });
  }
  /// As the store reads them back: ages and what is left of a suppression by the civil clock.
  [[nodiscard]] std::vector<AlarmSnapshot> read_back(WallTime now) const {
    std::vector<AlarmSnapshot> all;
    for (auto [name, snapshot] : snapshots) {
      snapshot.recorded.age = std::max(Monotonic{0}, std::chrono::duration_cast<Monotonic>(now - snapshot.since));
      const auto left = [now, since = snapshot.since](const std::optional<WallTime>& until) {
        return until ? std::optional{std::chrono::duration_cast<Monotonic>(
                           std::max(WallTime::duration{0}, *until - std::max(now, since)))}
                     : std::nullopt;
      };
      snapshot.recorded.shelved_remaining = left(snapshot.shelved_until);
      snapshot.recorded.out_of_service_remaining = left(snapshot.out_of_service_until);
      all.push_back(std::move(snapshot));
    }
    return all;
  }
};

/// The room, the people and the accidents of one seed. Two lives of one seed are the same but for the civil clock when
/// `clock_jumps` differs.
class Life {
public:
  Life(std::uint64_t seed, bool clock_jumps, bool restarts)
      : engine_{seed}, clock_jumps_{clock_jumps}, restarts_{restarts},
        annexe_{once_in(2) ? Annexe{} : Annexe{3, alarms::Scheme::two_of_three}} {
    room().regime = alarms::Regime::ventilated_before_entry;
    vary();
    annexe_.start();
  }
  void live_on() {
    if (once_in(9)) change_signal();
    if (once_in(12)) faulty_ = static_cast<unsigned>(roll(8)) * static_cast<unsigned>(roll(2));
    if (once_in(5)) act();
    if (once_in(15)) change_regime();
    const auto jump = std::chrono::milliseconds{1000 * (roll(7200) - 3600)};
    if (once_in(25) && clock_jumps_) annexe_.wall += jump;
    const bool reloads = once_in(40), starts_anew = once_in(50);
    if (reloads) reload();
    if (starts_anew && restarts_) restart();
    second();
  }

  const Records& records() const { return records_; }
  /// (elapsed time, alarm, from, to): all that must not depend on the civil clock.
  std::vector<std::string> transitions;
  std::vector<std::string> complaints;
  std::map<std::string, State> shown() const {
    std::map<std::string, State> states;
    for (const auto& a : annexe_.site->status(0, annexe_.now, annexe_.wall).alarms) states[a.alarm] = a.state;
    return states;
  }

private:
  int roll(int n) { return std::uniform_int_distribution<int>{0, n - 1}(engine_); }
  bool once_in(int n) { return roll(n) == 0; }
  [[nodiscard]] config::Room& room() { return annexe_.settings.rooms[0]; }

  void keep(const Outcome& outcome) {
    for (const auto& news : outcome.alarms)
      transitions.push_back(std::to_string(annexe_.now.count()) + " " + news.record.alarm + " " +
                            std::string{alarms::name_of(news.record.from)} + ">" +
                            std::string{alarms::name_of(news.record.to)} + " " + news.record.event);
    records_.keep(outcome);
  }
  /// Settings as a person might change them: delays, latching, class.
  void vary() {
    auto& low = std::get<alarms::Limit>(room().alarms[0].alarm.rule);
    low.on_delay = Monotonic{1000 * roll(6)};
    low.off_delay = Monotonic{1000 * roll(12)};
    auto& process = room().alarms[1].alarm.annunciation;
    process.safety = once_in(3);
    process.latching = once_in(2);
    room().alarms[1].regimes.assign(static_cast<std::size_t>(roll(2)), alarms::Regime::ventilated_before_entry);
    for (auto& alarm : room().alarms) {
      alarm.alarm.annunciation.reannounce_after = 60s;
      alarm.alarm.annunciation.shelve_at_most = 40s;
      alarm.alarm.annunciation.out_of_service_at_most = 40s;
    }
  }
  void change_signal() {
    constexpr std::array truths{0.2095, 0.2095, 0.197, 0.1955, 0.17, 0.24};
    annexe_.oxygen = truths.at(static_cast<std::size_t>(roll(static_cast<int>(truths.size()))));
    if (!is_low()) low_since_.reset();
    if (is_low() && !low_since_) low_since_ = annexe_.now;
  }
  /// Far below the limit of 19.5 %, so that no uncertainty matters.
  [[nodiscard]] bool is_low() const { return annexe_.oxygen < 0.18; }

  void act() {
    constexpr std::array acts{
        Act::acknowledge,         Act::silence,           Act::reset, Act::shelve,  Act::shelve_once, Act::unshelve,
        Act::remove_from_service, Act::return_to_service, Act::test,  Act::end_test};
    const auto what = acts.at(static_cast<std::size_t>(roll(static_cast<int>(acts.size()))));
    const auto& alarm = room().alarms[static_cast<std::size_t>(roll(static_cast<int>(room().alarms.size())))].name;
    const PersonAct person{what, "mira", "trying", Monotonic{1000 * (10 + roll(40))}};
    if (const auto acted = annexe_.site->act("cryo-annexe", alarm, person, annexe_.now, annexe_.wall))
      keep(acted->outcome);
  }
  void change_regime() {
    constexpr std::array regimes{alarms::Regime::occupied, alarms::Regime::ventilated_before_entry,
                                 alarms::Regime::sealed_low_oxygen};
    const auto regime = regimes.at(static_cast<std::size_t>(roll(static_cast<int>(regimes.size()))));
    const RegimeAct said{regime, "mira", "trying", once_in(2)};
    if (const auto acted = annexe_.site->set_regime("cryo-annexe", said, annexe_.now, annexe_.wall))
      keep(acted->outcome);
  }
  void reload() {
    vary();
    const Site before = *annexe_.site;
    annexe_.start();
    annexe_.site->continue_from(before, annexe_.now, annexe_.wall);
    keep(annexe_.site->settle_regimes(annexe_.wall));
    keep(annexe_.site->announce_reload(annexe_.now, annexe_.wall));
    begin_delays_anew();
  }
  void restart() {
    const auto away = std::chrono::milliseconds{1000 * roll(90)};
    annexe_.wall += away;
    annexe_.now = Monotonic{1000 * roll(1000)}; // another start of the machine's clock
    const auto said = annexe_.site->regime(0);
    annexe_.start();
    annexe_.site->restore_regimes({said});
    const auto sequence = records_.journal.empty() ? 0 : records_.journal.back().sequence;
    const auto orphans = annexe_.site->restore(records_.read_back(annexe_.wall), sequence, annexe_.now, annexe_.wall);
    if (!orphans.empty()) complaints.emplace_back("a restart lost an alarm");
    keep(annexe_.site->settle_regimes(annexe_.wall));
    keep(annexe_.site->announce_restart(annexe_.now, annexe_.wall));
    begin_delays_anew();
  }
  void begin_delays_anew() {
    if (low_since_) low_since_ = annexe_.now;
  }
  /// A poll of each sensor that answers, and the ticks of a second.
  void second() {
    keep(annexe_.site->take(once_in(15) ? annexe_.failed(annexe_.air(), drivers::BusFault::timeout)
                                        : annexe_.air_poll()));
    for (std::size_t c = 0; c < annexe_.air(); ++c) {
      const bool silent = (faulty_ & (1U << c)) != 0;
      keep(annexe_.site->take(silent ? annexe_.failed(c, drivers::BusFault::timeout)
                                     : annexe_.cell_poll(c, annexe_.oxygen)));
    }
    for (int i = 0; i < 2; ++i) keep(annexe_.pass(tick_period));
    look_for_silence();
  }
  /// Low oxygen is announced, or that the room is not monitored: at the latest when a cell that fell silent just then
  /// has grown too old, the delay of either has passed, and a poll and a tick.
  void look_for_silence() {
    if (!low_since_) return;
    const auto& low = std::get<alarms::Limit>(room().alarms[0].alarm.rule);
    const auto& blind = std::get<alarms::NotMonitored>(room().alarms.back().alarm.rule);
    const auto at_most = permitted_age(poll_period) + blind.on_delay + low.on_delay + poll_period + tick_period;
    if (annexe_.now - *low_since_ <= at_most) return;
    const auto states = shown();
    if (states.at("low-oxygen") == State::normal && states.at("not-monitored") == State::normal)
      complaints.push_back("not announced at " + std::to_string(annexe_.now.count()) + " ms, low since " +
                           std::to_string(low_since_->count()));
  }

  std::mt19937_64 engine_;
  bool clock_jumps_, restarts_;
  Annexe annexe_;
  Records records_;
  std::optional<Monotonic> low_since_;
  unsigned faulty_ = 0; ///< cells that do not answer, one bit each
};

/// What somebody reads who has the journal and nothing else.
std::map<std::string, State> read_states(const std::vector<AlarmRecord>& journal,
                                         std::vector<std::string>& complaints) {
  std::map<std::string, State> states;
  std::int64_t sequence = 0;
  for (const auto& record : journal) {
    if (record.sequence != ++sequence) complaints.push_back("a gap before line " + std::to_string(record.sequence));
    if (record.event == "transition-suppressed" || record.alarm.empty()) continue; // beneath what is shown; of the room
    auto& state = states.try_emplace(record.alarm, State::normal).first->second;
    if (record.from != state)
      complaints.push_back("line " + std::to_string(record.sequence) + " (" + record.event + ") of " + record.alarm +
                           " begins at " + std::string{alarms::name_of(record.from)} + ", not at " +
                           std::string{alarms::name_of(state)});
    state = record.to;
  }
  return states;
}

std::vector<std::string> complaints_of(std::uint64_t seed, int seconds) {
  Life life{seed, true, true};
  for (int i = 0; i < seconds; ++i) life.live_on();
  auto complaints = life.complaints;
  const auto read = read_states(life.records().journal, complaints);
  for (const auto& [alarm, state] : life.shown()) {
    const auto found = read.find(alarm);
    const auto told = found == read.end() ? State::normal : found->second;
    if (told != state)
      complaints.push_back("the journal leaves " + alarm + " at " + std::string{alarms::name_of(told)} + ", it is " +
                           std::string{alarms::name_of(state)});
  }
  return complaints;
}

RC_GTEST_PROP(AlarmsOfARoom, AreToldByTheirJournalAloneAndNeverStayWithoutAWord, ()) {
  const auto seed = *rc::gen::arbitrary<std::uint64_t>();
  const auto complaints = complaints_of(seed, 200);
  for (const auto& complaint : complaints) RC_LOG() << complaint << '\n';
  RC_ASSERT(complaints.empty());
}

// Lives that once ended in a contradiction.
TEST(AlarmsOfARoom, AreToldByTheirJournalInLivesThatOnceWentWrong) {
  for (const std::uint64_t seed : {365090583813U}) {
    EXPECT_EQ(complaints_of(seed, 200), std::vector<std::string>{}) << "seed " << seed;
  }
}

RC_GTEST_PROP(AlarmsOfARoom, DoNotFollowACivilClockThatJumps, ()) {
  const auto seed = *rc::gen::arbitrary<std::uint64_t>();
  Life steady{seed, false, false}, jumping{seed, true, false};
  for (int i = 0; i < 120; ++i) {
    steady.live_on();
    jumping.live_on();
  }
  RC_ASSERT(jumping.transitions == steady.transitions);
  RC_ASSERT(jumping.shown() == steady.shown());
}

// Whether the lives are eventful enough to prove anything.
TEST(AlarmsOfARoom, LiveThroughEveryStateThatAPersonSees) {
  std::map<State, int> seen;
  for (std::uint64_t seed = 1; seed <= 30; ++seed) {
    Life life{seed, true, true};
    for (int i = 0; i < 300; ++i) life.live_on();
    for (const auto& record : life.records().journal) ++seen[record.to];
  }
  for (const auto state :
       {State::normal, State::unacknowledged, State::acknowledged, State::returned_to_normal_unacknowledged,
        State::latched_unacknowledged, State::latched_acknowledged, State::shelved, State::suppressed_by_design,
        State::out_of_service})
    EXPECT_GT(seen[state], 20) << alarms::name_of(state);
}

} // namespace oxherd::simulation::alarms_life_test
