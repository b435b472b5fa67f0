// Random programs against a walk that knows nothing of instants: it looks at the clock on the wall every few seconds,
// begins a step when its time has come, and moves its set-point on by the time that has gone by.
#include <algorithm>
#include <cmath>
#include <optional>
#include <set>
#include <vector>

#include <gtest/gtest.h> // before rapidcheck, whose header needs its names

#include <rapidcheck/gtest.h>

#include "control/programs/day_program.hpp"
#include "tests/control/programs/zones.hpp"

namespace oxherd::control::day_program_walk_test {

using namespace zones;

constexpr seconds tick{30};

struct Walk {
  const DayProgram& program;
  OffsetAt offset_at;
  double value;
  double from;
  std::size_t step;
  Monotonic since{0};
  std::set<std::pair<local_days, std::size_t>> begun{};

  /// The clock has come to `now`. A step that was written for a time of its date that is shown, or was skipped, begins.
  void look(WallTime now) {
    const auto shown = local_time(offset_at, now);
    const auto date = floor<days>(shown);
    since += tick;
    move();
    for (std::size_t i = 0; i < program.steps.size(); ++i) {
      if (shown < date + program.steps[i].begins.offset || !begun.insert({date, i}).second) continue;
      from = value;
      step = i;
      since = Monotonic{0};
    }
    move();
  }
  void move() {
    const auto& [begins, target, ramp] = program.steps[step];
    double rate = 1e9; // a jump
    if (ramp.over > Monotonic{0}) rate = std::abs(target - from) / (alarms::seconds_of(ramp.over) / 3600.0);
    if (ramp.most_per_h) rate = std::min(rate, *ramp.most_per_h);
    if (program.most_per_h) rate = std::min(rate, *program.most_per_h);
    const double way = rate * alarms::seconds_of(since) / 3600.0;
    value = target > from ? std::min(target, from + way) : std::max(target, from - way);
    if (rate >= 1e9) value = target;
  }
};

DayProgram any_program() {
  DayProgram program;
  std::set<int> minutes_of_day; // even ones, so that steps begin at ticks
  const int count = *rc::gen::inRange(1, 7);
  // The hours around the changes of the clocks come up often.
  while (static_cast<int>(minutes_of_day.size()) < count)
    minutes_of_day.insert(*rc::gen::oneOf(rc::gen::inRange(0, 1440), rc::gen::inRange(0, 240)));
  for (const int minute : minutes_of_day) {
    DayStep step{{Anchor::To::clock, minutes{minute}}, *rc::gen::inRange(100, 300) / 10.0, {}};
    if (*rc::gen::arbitrary<bool>()) step.ramp.over = minutes{*rc::gen::inRange(1, 240)};
    if (*rc::gen::arbitrary<bool>()) step.ramp.most_per_h = *rc::gen::inRange(20, 200) / 10.0;
    program.steps.push_back(step);
  }
  if (*rc::gen::arbitrary<bool>()) program.most_per_h = *rc::gen::inRange(20, 100) / 10.0;
  return program;
}

WallTime any_day() {
  return utc(*rc::gen::element(spring_day, autumn_day, 2027y / 1 / 1, 2028y / 2 / 29, 2027y / 7 / 15));
}

double fastest(const DayProgram& program) {
  if (program.most_per_h) return *program.most_per_h;
  const auto [least, most] = std::ranges::minmax(program.steps, {}, &DayStep::target);
  double rate = 0.0;
  for (const auto& step : program.steps) {
    if (step.ramp.over == Monotonic{0} && !step.ramp.most_per_h) return 1e9;
    double own = step.ramp.most_per_h.value_or(1e9);
    if (step.ramp.over > Monotonic{0})
      own = std::min(own, (most.target - least.target) / (alarms::seconds_of(step.ramp.over) / 3600.0));
    rate = std::max(rate, own);
  }
  return rate;
}

RC_GTEST_PROP(DayProgram, IsWhereAWalkOfAllDaysBeforeHasCome, ()) {
  const auto program = any_program();
  const Locality place{central_europe, {}};
  RC_PRE(problems_of(program, place).empty());
  const auto begin = any_day() - days{4}, end = begin + days{6};
  Walk walk{program, central_europe, program.steps.back().target, program.steps.back().target,
            program.steps.size() - 1};
  walk.look(begin);
  for (auto now = begin; now < end; walk.look(now += tick)) {
    if (now < begin + days{3}) continue;          // by then one ramp has ended, whatever was before
    if ((now - begin) / tick % 37 != 0) continue; // all minutes, over the days
    const auto point = set_point_at(program, place, now);
    RC_ASSERT(point.step == walk.step);
    // Ramps are rounded up to a whole millisecond, which is 6e-6 at the fastest rate, 20 an hour.
    RC_ASSERT(std::abs(point.value - walk.value) < 6e-6);
  }
}

/// Two days in which nothing can happen unseen: every 20 minutes, and both sides of each beginning and of midnight.
std::vector<WallTime> moments_of(const DayProgram& program, const Locality& place, WallTime begin) {
  std::set<WallTime> moments;
  const auto end = begin + days{2};
  const auto see = [&](WallTime at) {
    if (at < end) moments.insert({at - milliseconds{1}, at});
  };
  for (auto at = begin; at < end; at += minutes{20}) see(at);
  for (auto at = begin; at < end;) see(at += set_point_at(program, place, at).next->in);
  const auto first = floor<days>(local_time(place.offset_at, begin));
  for (int day = 1; day <= 2; ++day) see(first_instant_of(place.offset_at, first + days{day}));
  return {moments.begin(), moments.end()};
}

RC_GTEST_PROP(DayProgram, StaysWithinItsTargetsAndItsRatesAndIsContinuous, ()) {
  const auto program = any_program();
  const Locality place{central_europe, {}};
  RC_PRE(problems_of(program, place).empty());
  const double rate = fastest(program);
  const auto [least, most] = std::ranges::minmax(program.steps, {}, &DayStep::target);
  std::optional<std::pair<WallTime, double>> before;
  for (const auto now : moments_of(program, place, any_day() + minutes{*rc::gen::inRange(-1440, 1440)})) {
    const auto point = set_point_at(program, place, now);
    RC_ASSERT(point.value >= least.target && point.value <= most.target);
    if (before)
      RC_ASSERT(std::abs(point.value - before->second) <=
                rate * alarms::seconds_of(now - before->first) / 3600.0 * (1.0 + 1e-9) + 1e-9);
    RC_ASSERT(std::abs(point.rate_per_h) <= rate * (1.0 + 1e-9));
    RC_ASSERT(point.ramping() == (point.ramp_left > Monotonic{0}));
    before = {now, point.value};
  }
}

RC_GTEST_PROP(DayProgram, ComesToWhatItHasAnnounced, ()) {
  const auto program = any_program();
  const Locality place{central_europe, {}};
  const auto now = any_day() + minutes{*rc::gen::inRange(-1440, 1440)};
  const auto point = set_point_at(program, place, now);
  RC_ASSERT(point.next && point.next->in > Monotonic{0});
  RC_ASSERT(set_point_at(program, place, now + point.next->in).step == point.next->step);
  RC_ASSERT(set_point_at(program, place, now + point.next->in - milliseconds{1}).step == point.step);
}

// With the sun there is no walk to compare with; what must hold of the set-point holds all the same, anywhere on earth.
RC_GTEST_PROP(DayProgram, OfTheSunIsContinuousAnywhereAndAlways, ()) {
  const auto anchor = [](Anchor::To to) { return Anchor{to, minutes{*rc::gen::inRange(-120, 121)}}; };
  const auto ramp = [] { return Ramp{.over = minutes{*rc::gen::inRange(30, 120)}, .most_per_h = {}}; };
  const DayProgram program{{{anchor(Anchor::To::sunrise), 24.0, ramp()},
                            {Anchor{Anchor::To::clock, hours{*rc::gen::inRange(5, 15)}}, 21.0, ramp()},
                            {anchor(Anchor::To::sunset), 18.0, ramp()}},
                           {}};
  const double longitude = *rc::gen::inRange(-170, 171);
  const seconds offset = hours{static_cast<int>(std::lround(longitude / 15.0))};
  const Locality there{[=](WallTime) { return offset; }, Place{*rc::gen::inRange(-80, 81) * 1.0, longitude}};
  const WallTime begin{sys_days{2027y / 1 / 1} + days{*rc::gen::inRange(0, 366)}};
  std::optional<std::pair<WallTime, double>> before;
  for (const auto now : moments_of(program, there, begin)) {
    const auto point = set_point_at(program, there, now);
    RC_ASSERT(point.value >= 18.0 && point.value <= 24.0);
    if (before) // 6 K in 30 minutes at most
      RC_ASSERT(std::abs(point.value - before->second) <=
                12.0 * alarms::seconds_of(now - before->first) / 3600.0 + 1e-9);
    RC_ASSERT(point.next->in > Monotonic{0});
    before = {now, point.value};
  }
}

} // namespace oxherd::control::day_program_walk_test
