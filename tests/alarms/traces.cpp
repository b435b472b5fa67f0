// Prints random lives of alarms as JSON lines: what was done, and where the alarm stood after it. A second model,
// model.py, reads them and must agree.
//   alarm_traces SEED COUNT
#include <cmath>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <iterator>
#include <random>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include <fmt/format.h>

#include "alarms/alarm.hpp"

namespace oxherd::alarms_traces {

using namespace alarms;
using namespace std::chrono_literals;

class Dice {
public:
  explicit Dice(std::uint64_t seed) : engine_{seed} {}
  /// 0 .. sides-1. The engine is fixed by the standard; its distributions are not.
  int roll(int sides) { return static_cast<int>(engine_() % static_cast<std::uint64_t>(sides)); }
  bool once_in(int sides) { return roll(sides) == 0; }

private:
  std::mt19937_64 engine_;
};

std::string json(bool value) { return value ? "true" : "false"; }
std::string json(double value) { return std::isfinite(value) ? fmt::format("{}", value) : "null"; }

std::string json(const std::vector<Transition>& transitions) {
  std::string text;
  for (const auto& t : transitions)
    text += fmt::format("{}[\"{}\",\"{}\",\"{}\"]", text.empty() ? "" : ",", name_of(t.from), name_of(t.to),
                        name_of(t.cause));
  return "[" + text + "]";
}

std::string json(const std::vector<Channel>& channels) {
  std::string text;
  for (const auto& c : channels)
    text +=
        fmt::format("{}[\"{}\",{},{}]", text.empty() ? "" : ",", name_of(c.quality), json(c.value), json(c.expanded));
  return "[" + text + "]";
}

/// One alarm and its life. All numbers are multiples of 1/8, so that limits are met exactly.
class Life {
public:
  explicit Life(std::uint64_t seed) : dice_{seed} {
    alarm_.annunciation = random_annunciation();
    is_restless_ = dice_.once_in(12);
    const Monotonic on = is_restless_ ? 0ms : 500ms * dice_.roll(6), off = is_restless_ ? 0ms : 500ms * dice_.roll(6);
    if (dice_.once_in(5)) {
      alarm_.rule = NotMonitored{.on_delay = on, .off_delay = off};
    } else {
      alarm_.rule = Limit{.direction = dice_.once_in(3) ? Direction::high : Direction::low,
                          .limit = limit_,
                          .deadband = 0.125 * dice_.roll(5),
                          .on_delay = on,
                          .off_delay = off};
      scheme_ = static_cast<Scheme>(dice_.roll(4));
    }
    channels_.resize(static_cast<std::size_t>(channels_of(scheme_)));
    now_ = 1ms * dice_.roll(100000);
    state_ = initial(alarm_, now_);
  }

  void print() {
    std::string steps;
    const int count = 20 + dice_.roll(60);
    const std::string head = settings();
    for (int i = 0; i < count; ++i) steps += (i == 0 ? "" : ",") + one_step();
    fmt::print("{{{},\"steps\":[{}]}}\n", head, steps);
  }

private:
  Annunciation random_annunciation() {
    Annunciation a;
    a.safety = dice_.once_in(4);
    a.latching = dice_.once_in(2);
    a.acknowledge_required = !dice_.once_in(4);
    a.reannounce_after = 1s * (2 + dice_.roll(10));
    a.shelve_at_most = 1s * (2 + dice_.roll(10));
    a.out_of_service_at_most = 1s * (2 + dice_.roll(10));
    a.silence_for = 1s * (1 + dice_.roll(5));
    a.test_at_most = 1s * (2 + dice_.roll(10));
    return a;
  }

  std::string settings() const {
    const auto& a = alarm_.annunciation;
    std::string rule = "\"rule\":\"not-monitored\",";
    Monotonic on, off;
    if (const auto* limit = std::get_if<Limit>(&alarm_.rule)) {
      rule = fmt::format("\"rule\":\"limit\",\"direction\":\"{}\",\"limit\":{},\"deadband\":{},\"scheme\":\"{}\",",
                         limit->direction == Direction::low ? "low" : "high", limit->limit, limit->deadband,
                         name_of(scheme_));
      on = limit->on_delay, off = limit->off_delay;
    } else {
      const auto& blind = std::get<NotMonitored>(alarm_.rule);
      on = blind.on_delay, off = blind.off_delay;
    }
    return fmt::format("{}\"on\":{},\"off\":{},\"safety\":{},\"latching\":{},\"ack_required\":{},\"reannounce\":{},"
                       "\"shelve_at_most\":{},\"service_at_most\":{},\"silence\":{},\"test_at_most\":{},\"start\":{}",
                       rule, on.count(), off.count(), json(a.safety), json(a.latching), json(a.acknowledge_required),
                       a.reannounce_after.count(), a.shelve_at_most.count(), a.out_of_service_at_most.count(),
                       a.silence_for.count(), a.test_at_most.count(), now_.count());
  }

  std::string one_step() {
    now_ += dice_.once_in(30) ? pause() : is_restless_ ? 15s : 250ms * dice_.roll(5);
    switch (dice_.roll(36)) {
    case 0:
    case 1:
    case 2: return person(Act::acknowledge);
    case 3:
    case 4: return person(Act::silence);
    case 5: return person(Act::reset);
    case 6: return person(Act::shelve);
    case 7: return person(Act::shelve_once);
    case 8: return person(Act::remove_from_service);
    case 9:
    case 10: return design(dice_.once_in(2));
    case 11: return person(dice_.once_in(2) ? Act::unshelve : Act::return_to_service);
    case 12:
    case 13: return person(Act::test);
    case 14: return person(Act::end_test);
    case 15: return dice_.once_in(3) ? restart() : sample();
    default: return sample();
    }
  }

  /// Long enough to meet the times of chattering, some of them exactly.
  Monotonic pause() {
    constexpr Monotonic pauses[] = {10s, 29500ms, 30s, 59750ms, 60s, 5min, 599750ms, 10min, 11min};
    return pauses[dice_.roll(static_cast<int>(std::size(pauses)))];
  }

  std::string sample() {
    const bool fresh = is_restless_ || !dice_.once_in(4);
    if (fresh) {
      if (is_restless_)
        drift_ = dice_.once_in(6) ? 3 : 2 - drift_ % 3; // to and fro between low and clear
      else if (dice_.once_in(4))
        drift_ = dice_.roll(4); // a spell of low, of inside, of clear or of anything
      for (auto& c : channels_) c = random_channel();
      monitored_ = drift_ == 3 ? dice_.once_in(2) : drift_ != 0;
    }
    const auto step = evaluate(alarm_, state_, {channels_, scheme_, monitored_, fresh}, now_);
    state_ = step.state;
    return line("evaluate", fmt::format("\"channels\":{},\"monitored\":{},", json(channels_), json(monitored_)), true,
                changes(step) + fmt::format(",\"test_ended\":{}", json(step.test_ended)));
  }

  static std::string changes(const AlarmStep& step) {
    return fmt::format(",\"transitions\":{},\"beneath\":{}", json(step.transitions), json(step.beneath));
  }

  Channel random_channel() {
    const int span = dice_.roll(10);
    const int eighths = drift_ == 0 ? span - 9 : drift_ == 1 ? span - 4 : drift_ == 2 ? span + 1 : 2 * span - 10;
    const auto* limit = std::get_if<Limit>(&alarm_.rule);
    const double side = limit != nullptr && limit->direction == Direction::high ? -1.0 : 1.0;
    Channel c{dice_.once_in(3) ? Quality::uncertain : Quality::good, limit_ + side * eighths * 0.125,
              0.125 * dice_.roll(3)};
    if (dice_.once_in(8)) c.quality = Quality::bad;
    if (dice_.once_in(30)) c.value = std::nan("");
    if (dice_.once_in(30)) c.expanded = dice_.once_in(2) ? -0.125 : HUGE_VAL;
    return c;
  }

  std::string person(Act what) {
    const bool timed = what == Act::shelve || what == Act::shelve_once || what == Act::remove_from_service;
    std::string in, reason;
    Monotonic duration{0};
    if (timed || what == Act::test) {
      duration = 1s * (dice_.roll(14) - 1);
      if (timed) reason = dice_.once_in(6) ? " " : "door work";
      in = fmt::format("\"duration\":{},\"reason\":\"{}\",", duration.count(), reason);
    }
    const auto step = act(alarm_, state_, {what, duration, reason}, now_);
    if (step) state_ = step->state;
    if (step && what == Act::test) drift_ = 2; // whoever tests an alarm does so in fresh air
    return line(name_of(what), in, step.has_value(), changes(step ? *step : AlarmStep{}));
  }

  std::string design(bool on) {
    const auto after = suppress_by_design(alarm_.annunciation, state_.standing, on, now_);
    if (after) state_.standing = *after;
    return line(on ? "design_on" : "design_off", "", after.has_value(), "");
  }

  /// The program was away for a while; its clock starts anew.
  std::string restart() {
    const Monotonic away = 250ms * dice_.roll(12);
    const bool unknown = dice_.once_in(3);
    Recorded record = recorded(state_, now_);
    record.age += away;
    for (auto* remaining : {&record.shelved_remaining, &record.out_of_service_remaining})
      if (*remaining) *remaining = unknown ? Monotonic{0} : **remaining - away;
    const Monotonic stopped = std::exchange(now_, 1ms * dice_.roll(100000));
    state_ = restored(alarm_, record, now_);
    return line("restart",
                fmt::format("\"stopped\":{},\"away\":{},\"unknown\":{},", stopped.count(), away.count(), json(unknown)),
                true, "");
  }

  std::string line(std::string_view what, const std::string& in, bool accepted, const std::string& out) const {
    const Standing& s = state_.standing;
    return fmt::format("{{\"do\":\"{}\",\"now\":{},{}\"accepted\":{},\"shown\":\"{}\",\"under\":\"{}\",\"present\":{},"
                       "\"sounds\":{},\"relay\":{},\"since\":{},\"tested\":{},\"simulated\":{},\"chattering\":{}{}}}",
                       what, now_.count(), in, json(accepted), name_of(shown(s)), name_of(s.beneath), json(s.present),
                       json(sounds(s, now_)), json(drops_relay(s)), s.since.count(), json(state_.test.has_value()),
                       json(state_.simulated), json(state_.chatter.chattering), out);
  }

  static constexpr double limit_ = 19.5;
  Dice dice_;
  Alarm alarm_;
  AlarmState state_;
  Scheme scheme_ = Scheme::one_of_one;
  std::vector<Channel> channels_;
  bool monitored_ = true;
  int drift_ = 3;
  bool is_restless_ = false; ///< comes and goes on an even beat that meets the minute of chattering exactly
  Monotonic now_{0};
};

} // namespace oxherd::alarms_traces

int main(int argc, char** argv) {
  if (argc != 3) {
    std::fputs("usage: alarm_traces SEED COUNT\n", stderr);
    return 2;
  }
  const auto seed = std::strtoull(argv[1], nullptr, 10);
  const auto count = std::strtoull(argv[2], nullptr, 10);
  for (std::uint64_t i = 0; i < count; ++i) oxherd::alarms_traces::Life{seed * 1000003 + i}.print();
}
