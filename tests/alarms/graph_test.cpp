// Walks the whole graph of what an alarm can come to: every state that any sequence of samples, acts, design logic,
// restarts and time leads to, with short timers. Each edge is held against the promises of an alarm and against the
// witness, who has only watched.
#include <algorithm>
#include <cstdint>
#include <set>
#include <stdexcept>
#include <string>
#include <string_view>
#include <unordered_map>
#include <vector>

#include <fmt/format.h>
#include <gtest/gtest.h>

#include "alarms/suppression.hpp"
#include "tests/alarms/graph_machine.hpp"
#include "tests/alarms/graph_table.hpp"

namespace oxherd::alarms_graph_test {

struct Node {
  AlarmState state; ///< at noon
  Witness witness;
};

/// All of a node in 128 bits.
struct Key {
  std::uint64_t high = 0, low = 0;
  bool operator==(const Key&) const = default;
  /// The next number, -1 to 2^bits - 2.
  void add(std::int64_t number, int bits) {
    const auto code = static_cast<std::uint64_t>(number + 1);
    if (code >> bits != 0) throw std::logic_error{"a number does not fit into its place in the key"};
    high = high << bits | low >> (64 - bits);
    low = low << bits | code;
  }
};
struct HashOfKey {
  std::size_t operator()(const Key& k) const {
    return (k.high * 0x9e3779b97f4a7c15U ^ k.low) * 0xbf58476d1ce4e5b9U >> 7;
  }
};

Key key_of(const Node& node) {
  Key key;
  const auto age = [&key](Monotonic date) { key.add((noon - date) / tick, 3); };
  const auto left = [&key](const std::optional<Monotonic>& date) { key.add(date ? (*date - noon) / tick : none, 3); };
  const auto& rule = std::get<alarms::LimitState>(node.state.rule);
  key.add(static_cast<int>(rule.phase), 3);
  age(rule.since);
  const auto& s = node.state.standing;
  key.add(static_cast<int>(s.beneath), 4);
  left(s.shelved_until);
  left(s.out_of_service_until);
  age(s.since);
  left(s.silenced_until);
  const auto& test = node.state.test;
  key.add(test ? static_cast<int>(test->phase) : none, 3);
  age(test ? test->since : noon);
  left(test ? std::optional{test->until} : std::nullopt);
  const auto& w = node.witness;
  for (const int number : {static_cast<int>(w.sample), w.beyond_for, w.clear_for, w.test_for, w.simulated_for,
                           w.shown_for, w.shelved_for, w.out_for, w.silent_for})
    key.add(number, 3);
  int flags = 0;
  for (const bool flag : {rule.tripped[0], s.present, s.tripped_while_suppressed, s.shelved_once,
                          s.suppressed_by_design, node.state.simulated, w.decided, w.test_over, w.simulated, w.owed,
                          w.latched, w.shelved_once, w.by_design, w.in_force})
    flags = 2 * flags + (flag ? 1 : 0);
  key.add(flags, 15);
  return key;
}

class Graph {
public:
  /// @param by_regime  whether the regime of the room may take the alarm out of force
  Graph(const Alarm& alarm, bool by_regime) : alarm_{alarm}, by_regime_{by_regime} {}

  void walk() {
    arrive({alarms::initial(alarm_, noon), {}}, 0, nullptr);
    for (std::uint32_t from = 0; from < nodes_.size() && broken_.empty(); ++from) {
      expect_chatter_to_change_nothing(from);
      for (const Move& move : all_moves()) {
        Node node = nodes_[from];
        if (take(move, node)) {
          ++edges_;
          const std::uint32_t to = arrive(node, from, &move);
          if (move.kind != Move::Kind::restart && move.act != Act::test) back_.push_back({to, from});
        }
        if (broken_.empty()) continue;
        broken_ += " after" + path_to(from) + " " + move.name;
        return;
      }
    }
  }

  const std::string& broken() const { return broken_; }
  const std::set<std::string>& rows() const { return rows_; }
  const std::set<char>& shown() const { return shown_; }
  std::size_t nodes() const { return nodes_.size(); }
  std::size_t edges() const { return edges_; }

  /// How many nodes have no way back to normal, without restart or test.
  std::size_t without_exit() const {
    std::vector<std::vector<std::uint32_t>> before(nodes_.size());
    for (const auto& [to, from] : back_) before[to].push_back(from);
    std::vector<bool> exits(nodes_.size());
    std::vector<std::uint32_t> open;
    const auto mark = [&](std::uint32_t i) {
      if (!exits[i]) open.push_back(i);
      exits[i] = true;
    };
    for (std::uint32_t i = 0; i < nodes_.size(); ++i)
      if (letter(nodes_[i].state) == 'A') mark(i);
    while (!open.empty()) {
      const auto i = open.back();
      open.pop_back();
      for (const auto j : before[i]) mark(j);
    }
    return static_cast<std::size_t>(std::count(exits.begin(), exits.end(), false));
  }

private:
  static char letter(const AlarmState& state) { return letter_of(alarms::shown(state.standing)); }

  void require(bool kept, const char* promise) {
    if (!kept && broken_.empty()) broken_ = promise;
  }

  std::uint32_t arrive(const Node& node, std::uint32_t from, const Move* by) {
    const auto [found, is_new] = numbers_.try_emplace(key_of(node), static_cast<std::uint32_t>(nodes_.size()));
    if (is_new) {
      nodes_.push_back(node);
      arrivals_.push_back({from, by});
      shown_.insert(letter(node.state));
    }
    return found->second;
  }

  std::string path_to(std::uint32_t node) const {
    std::vector<std::string> names;
    for (; node != 0; node = arrivals_[node].from) names.push_back(arrivals_[node].by->name);
    std::string path;
    for (auto name = names.rbegin(); name != names.rend(); ++name) path += " " + *name;
    return path;
  }

  /// False when it was refused. The node is then as before.
  bool take(const Move& move, Node& node) {
    using Kind = Move::Kind;
    switch (move.kind) {
    case Kind::clock: return evaluate(node, node.witness.sample, 1);
    case Kind::sample: return evaluate(node, move.sample, 0);
    case Kind::act: return person(move, node);
    case Kind::design: return design_logic(move, node);
    case Kind::regime: return change_regime(move, node);
    case Kind::restart: return restart(move, node);
    }
    return false;
  }

  bool evaluate(Node& node, Sample sample, int ticks) {
    const Monotonic now = noon + ticks * tick;
    const char before = letter(node.state);
    const bool was_decided = node.witness.decided, was_tested = node.state.test.has_value();
    Witness& w = node.witness;
    w.time_passes(ticks);
    w.sampled(sample);
    const AlarmStep step = evaluated(alarm_, node.state, w, ticks == 0, now);
    w.evaluate(alarm_.annunciation);
    journal(before, step);
    for (const auto& t : step.beneath)
      require(before > 'F' && letter_of(t.from) <= 'F' && letter_of(t.to) <= 'F',
              "what is hidden was journaled wrongly");
    node.state = at_noon(step.state, now);
    const char after = letter(node.state);
    if (w.decided && !was_decided && !w.suppressed()) require(after == 'B', "a condition came and was not announced");
    require(step.test_ended == (was_tested && !node.state.test), "the end of a test was not reported");
    judge_after_evaluation(node, after);
    judge(node, after);
    return true;
  }

  void judge_after_evaluation(const Node& node, char shown) {
    const auto& [state, w] = node;
    const bool suppressed = shown == 'G' || shown == 'H' || shown == 'I';
    if (w.beyond_for >= on_delay)
      require(shown == 'B' || shown == 'C' || suppressed, "a condition outlasted its on-delay unannounced");
    if (w.decided) require(!state.test, "a test goes on although the condition is real");
    if (shown == 'A') require(!state.simulated, "a normal alarm is said to come from a test");
  }

  void judge(const Node& node, char shown) {
    const auto& [state, w] = node;
    const auto& s = state.standing;
    if (w.decided) {
      require(shown == 'B' || shown == 'C' || shown > 'F', "a condition is present and not shown");
      require(!state.simulated, "a real condition is said to come from a test");
      require(alarms::drops_relay(s), "a condition is present and the relay holds");
    }
    if (w.simulated) require(state.simulated, "a simulated condition is said to be real");
    if (w.owed && shown <= 'F') require(shown != 'A' && shown != 'C' && shown != 'F', "an acknowledgement was lost");
    if (!w.owed && shown <= 'F')
      require(shown != 'B' && shown != 'D' && shown != 'E', "it is announced and nothing is owed");
    require(!s.shelved_until || w.shelved_for != none, "a shelving outlived its time");
    require(s.shelved_until || w.shelved_for == none, "a shelving ended before its time");
    require(!s.out_of_service_until || w.out_for != none, "out of service outlived its time");
    require(s.out_of_service_until || w.out_for == none, "out of service ended before its time");
    require(!state.test || w.test_for != none, "a test outlived its time");
    require(state.test || w.test_for == none, "a test ended before its time");
    require(s.suppressed_by_design == w.by_design, "suppressed by design or not");
    require(s.present == w.stands(), "present or not");
    require(shown == w.letter(), "what is shown is not what the facts say");
    require(alarms::sounds(s, noon) == w.sounds(), "the horn");
    require((noon - s.since) / tick == w.shown_for, "the age of what is shown");
  }

  bool person(const Move& move, Node& node) {
    const char before = letter(node.state);
    const Witness witness = node.witness;
    const auto step = alarms::act(alarm_, node.state, {move.act, move.duration * tick, move.reason}, noon);
    const bool has_reason = move.reason.find_first_not_of(' ') != std::string_view::npos;
    const bool expected = node.witness.act(alarm_.annunciation, move.act, move.duration, has_reason);
    require(step.has_value() == expected, expected ? "a legal act was refused" : "an illegal act was accepted");
    if (!step) { // brings no state, so that the alarm is left as it was
      require(node.witness == witness, "the witness is at fault: a refusal changed something");
      require(!step.error().text.empty(), "a refusal without a word");
      return false;
    }
    journal(before, *step);
    node.state = at_noon(step->state, noon);
    judge(node, letter(node.state));
    return true;
  }

  bool design_logic(const Move& move, Node& node) {
    const char before = letter(node.state);
    const auto after = alarms::suppress_by_design(alarm_.annunciation, node.state.standing, move.on, noon);
    const bool expected = node.witness.design_logic_says(alarm_.annunciation, move.on);
    require(after.has_value() == expected, "design suppression was refused or accepted wrongly");
    if (!after) return false;
    node.state.standing = *after;
    const char shown = letter(node.state);
    if (shown != before) note(before, "design", shown);
    judge(node, shown);
    return true;
  }

  bool change_regime(const Move& move, Node& node) {
    if (!by_regime_ || node.witness.in_force == move.on) return false;
    node.witness.in_force = move.on; // shows at the next evaluation
    return true;
  }

  bool restart(const Move& move, Node& node) {
    const auto before = node.state.standing;
    const bool hidden = before.suppressed_by_design || node.state.simulated; // nobody has acknowledged what comes of it
    auto record = alarms::recorded(node.state, noon);
    record.age += move.away * tick;
    for (auto* remaining : {&record.shelved_remaining, &record.out_of_service_remaining})
      if (*remaining) *remaining = move.time_unknown ? Monotonic{0} : **remaining - move.away * tick;
    node.state = at_noon(alarms::restored(alarm_, record, 7 * tick), 7 * tick);
    node.witness.restart(move.away, move.time_unknown);
    const auto& after = node.state.standing;
    require(after.present == before.present, "a restart cleared or raised a condition");
    if (before.beneath != after.beneath)
      require(hidden && before.beneath == alarms::State::acknowledged && after.beneath == alarms::State::unacknowledged,
              "a restart acknowledged or cleared");
    if (!hidden) require(alarms::shown(after) == alarms::shown(before), "a restart changed what is shown");
    judge(node, letter(node.state));
    return true;
  }

  /// The journal alone leads from what was shown to what is shown, by rows of the table.
  void journal(char before, const AlarmStep& step) {
    char shown = before;
    for (const auto& t : step.transitions) {
      require(letter_of(t.from) == shown, "the journal has a gap");
      shown = letter_of(t.to);
      note(letter_of(t.from), alarms::name_of(t.cause), shown);
    }
    require(shown == letter(step.state), "the journal does not end at what is shown");
  }

  void note(char from, std::string_view cause, char to) {
    const auto row = fmt::format("{} {} {}", from, cause, to);
    if (rows_.insert(row).second) require(legal_.count(row) != 0, "no such row in the table");
  }

  void expect_chatter_to_change_nothing(std::uint32_t i) {
    AlarmState chattering = nodes_[i].state;
    chattering.chatter = {{noon - 2 * tick, noon - tick, noon}, true};
    const auto& w = nodes_[i].witness;
    const auto with = evaluated(alarm_, chattering, w, false, noon + tick);
    const auto without = evaluated(alarm_, nodes_[i].state, w, false, noon + tick);
    require(with.state.standing == without.state.standing, "chattering changed how the alarm is annunciated");
    const auto again = evaluated(alarm_, without.state, w, false, noon + tick);
    require(again.state == without.state && again.transitions.empty() && again.beneath.empty(),
            "an evaluation said twice changed something");
  }

  Alarm alarm_;
  bool by_regime_;
  std::set<std::string> legal_ = legal_rows(alarm_.annunciation);
  std::vector<Node> nodes_;
  struct Arrival {
    std::uint32_t from;
    const Move* by;
  };
  std::vector<Arrival> arrivals_;
  std::unordered_map<Key, std::uint32_t, HashOfKey> numbers_;
  std::vector<std::pair<std::uint32_t, std::uint32_t>> back_;
  std::set<std::string> rows_;
  std::set<char> shown_;
  std::string broken_;
  std::size_t edges_ = 0;
};

void expect_promises_kept(bool safety, bool latching, bool acknowledge_required, bool by_regime = false) {
  const Alarm alarm = alarm_for(safety, latching, acknowledge_required);
  Graph graph{alarm, by_regime};
  graph.walk();
  ASSERT_EQ(graph.broken(), "");
  std::string states = lower_states(alarm.annunciation) + covers(alarm.annunciation);
  EXPECT_EQ(graph.shown(), std::set<char>(states.begin(), states.end())) << "every state can be entered";
  EXPECT_EQ(graph.without_exit(), 0U) << "from everywhere there is a way back to normal";
  EXPECT_EQ(graph.rows(), legal_rows(alarm.annunciation)) << "the whole table occurs";
  fmt::print("{} states, {} edges, {} rows of the table\n", graph.nodes(), graph.edges(), graph.rows().size());
}

TEST(WholeGraph, KeepsThePromisesOfALatchingSafetyAlarm) { expect_promises_kept(true, true, true); }
TEST(WholeGraph, KeepsThePromisesOfASafetyAlarmThatDoesNotLatch) { expect_promises_kept(true, false, true); }
TEST(WholeGraph, KeepsThePromisesOfASafetyAlarmThatIsNotInForceInEveryRegime) {
  expect_promises_kept(true, true, true, true);
}
TEST(WholeGraph, KeepsThePromisesOfAProcessAlarm) { expect_promises_kept(false, false, true); }
TEST(WholeGraph, KeepsThePromisesOfALatchingProcessAlarm) { expect_promises_kept(false, true, true); }
TEST(WholeGraph, KeepsThePromisesOfAnAlarmThatNeedsNoAcknowledgement) { expect_promises_kept(false, false, false); }

} // namespace oxherd::alarms_graph_test
