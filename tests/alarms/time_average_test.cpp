#include "alarms/rules/time_average.hpp"

#include <deque>
#include <numeric>

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include "alarms/alarm.hpp"

namespace oxherd::alarms_average_test {

using namespace alarms;
using namespace std::chrono_literals;

constexpr RuleInput nothing{};

/// A probe in ppm, evaluated at a fixed beat.
struct Probe {
  TimeAverage rule{{Direction::high, 5000.0, 250.0, 0s, 0s}, 8h};
  TimeAverageState state{};
  Monotonic now = 90s;
  Monotonic beat = 30s;

  Decision evaluate(const Channel& channel) {
    const auto after = next(rule, state, {.channels = {&channel, 1}}, now);
    state = after.state;
    const auto again = next(rule, state, {.channels = {&channel, 1}}, now);
    EXPECT_EQ(again.state, state); // the second time changes nothing
    return after.decision;
  }
  /// Holds a value for a time; the last decision that was not hold.
  Decision hold(Monotonic time, const Channel& channel) {
    Decision last = Decision::hold;
    const auto note = [&](Decision d) {
      if (d != Decision::hold) last = d;
    };
    note(evaluate(channel));
    for (const Monotonic end = now + time; now < end;) {
      now = std::min(end, now + beat);
      note(evaluate(channel));
    }
    return last;
  }
  [[nodiscard]] std::optional<Channel> average() const { return value_of(rule, state, nothing); }
};

Channel ppm(double value, double expanded = 0.0) { return {Quality::good, value, expanded}; }
const Channel lost{};

// 29 CFR 1910.1000(d)(1)(i), the illustration beneath it: (2 x 150 + 2 x 75 + 4 x 50) / 8 = 81.25 ppm. The numbers are
// sums of halves and whole minutes, so only rounding is allowed.
TEST(TimeAverage, AgreesWithTheExampleOf29Cfr1910_1000) {
  for (const Monotonic start : {0ms, 90000ms, 12345678ms}) {
    Probe p{.now = start};
    p.hold(2h, ppm(150.0));
    p.hold(2h, ppm(75.0));
    p.hold(4h, ppm(50.0));
    ASSERT_TRUE(p.average());
    EXPECT_NEAR(p.average()->value, 81.25, 81.25 * 1e-12);
    // From here on it slides: half an hour later, half an hour at 150 has left and one at 50 has come.
    p.hold(30min, ppm(50.0));
    EXPECT_NEAR(p.average()->value, 81.25 - 0.5 * 100.0 / 8.0, 1e-9);
  }
}

TEST(TimeAverage, DoesNotDependOnTheBeatOfTheEvaluations) {
  Probe fine{.beat = 500ms}, coarse{.beat = 47min};
  for (Probe* p : {&fine, &coarse}) {
    p->hold(100min, ppm(4000.0, 100.0));
    p->hold(400min, ppm(900.0, 60.0));
  }
  EXPECT_NEAR(fine.average()->value, coarse.average()->value, 1e-9);
  EXPECT_NEAR(fine.average()->expanded, coarse.average()->expanded, 1e-9);
}

TEST(TimeAverage, TripsAtTheLimitItselfAtTheUnfavourableEnd) {
  Probe at{.rule = {{Direction::high, 5000.0, 250.0, 0s, 0s}, 15min}}, below = at, guarded = at;
  EXPECT_EQ(at.hold(15min, ppm(5000.0)), Decision::appears);
  EXPECT_EQ(below.hold(15min, ppm(4999.0)), Decision::hold);
  EXPECT_EQ(guarded.hold(15min, ppm(4900.0, 100.0)), Decision::appears);
}

TEST(TimeAverage, ShortPeaksDoNotTripIt) {
  Probe p;
  p.hold(4h, ppm(800.0));
  EXPECT_EQ(p.hold(30min, ppm(20000.0)), Decision::hold);
  EXPECT_NEAR(p.average()->value, (4 * 800.0 + 0.5 * 20000.0) / 4.5, 1e-6);
}

TEST(TimeAverage, HasNoValueUntilAnEighthOfTheWindowIsKnown) {
  Probe p;
  EXPECT_EQ(p.hold(1h - 30s, ppm(9000.0)), Decision::hold);
  EXPECT_FALSE(p.average());
  EXPECT_EQ(p.hold(30s, ppm(9000.0)), Decision::appears);
  EXPECT_DOUBLE_EQ(p.average()->value, 9000.0); // the hours before the start count as these
}

TEST(TimeAverage, AGapCountsAtTheWorseOfItsSides) {
  Probe rising, falling;
  rising.hold(4h, ppm(1000.0));
  rising.hold(2h, lost);
  EXPECT_NEAR(rising.average()->value, 1000.0, 1e-9); // while it lasts, as before it
  EXPECT_EQ(rising.average()->quality, Quality::uncertain);
  rising.hold(2h, ppm(3000.0));
  EXPECT_NEAR(rising.average()->value, (4 * 1000.0 + 4 * 3000.0) / 8.0, 1e-9);
  EXPECT_EQ(rising.average()->quality, Quality::good);
  falling.hold(4h, ppm(3000.0));
  falling.hold(2h, lost);
  falling.hold(2h, ppm(1000.0));
  EXPECT_NEAR(falling.average()->value, (6 * 3000.0 + 2 * 1000.0) / 8.0, 1e-9);
}

TEST(TimeAverage, OfALowLimitTakesTheLowerSideOfAGap) {
  Probe p{.rule = {{Direction::low, 18.0, 0.2, 0s, 0s}, 8h}};
  p.hold(4h, ppm(20.0));
  p.hold(2h, lost);
  p.hold(2h, ppm(19.0));
  EXPECT_NEAR(p.average()->value, (4 * 20.0 + 4 * 19.0) / 8.0, 1e-9);
}

TEST(TimeAverage, AGapMayBringTheAlarmAndNeverEndsIt) {
  Probe p;
  p.hold(2h, ppm(1000.0));
  p.hold(1min, ppm(6000.0));
  EXPECT_EQ(p.hold(9h, lost), Decision::appears);
  Probe present = p;
  present.hold(8h, ppm(100.0));
  ASSERT_EQ(present.state.phase, Phase::clear);
  p.hold(1s, ppm(100.0)); // the gap counts at 6000 still
  p.state.held = ppm(100.0);
  EXPECT_EQ(p.hold(16h, lost), Decision::hold);
  EXPECT_EQ(p.hold(1s, ppm(100.0)), Decision::ends);
}

TEST(TimeAverage, SurvivesASleepLongerThanItsWindow) {
  Probe p{.beat = 48h};
  p.hold(48h, ppm(700.0));
  EXPECT_NEAR(p.average()->value, 700.0, 1e-9);
  EXPECT_EQ(p.state.buckets.size(), std::size_t{average_buckets} + 1);
}

TEST(TimeAverage, ARestartKeepsWhatWasPresentUntilAnEighthIsKnown) {
  const Alarm alarm{TimeAverage{{Direction::high, 5000.0, 250.0, 0s, 0s}, 8h}, Annunciation{}};
  AlarmState state = restored(alarm, {.beneath = State::unacknowledged, .present = true, .age = 1min}, 1000s);
  const Channel fresh = ppm(450.0);
  state = evaluate(alarm, state, {.channels = {&fresh, 1}}, 1000s).state;
  state = evaluate(alarm, state, {.channels = {&fresh, 1}}, 1000s + 59min).state;
  EXPECT_EQ(shown(state.standing), State::unacknowledged);
  state = evaluate(alarm, state, {.channels = {&fresh, 1}}, 1000s + 60min).state;
  EXPECT_EQ(shown(state.standing), State::latched_unacknowledged);
}

// Against a list of every second, kept whole. Gaps included; the oldest bucket is taken as level, which is exact here
// because values change at whole buckets only.
RC_GTEST_PROP(TimeAverage, AgreesWithAListOfEverySecond, ()) {
  Probe p{.rule = {{Direction::high, 5000.0, 250.0, 0s, 0s}, 8min}, .now = 0s, .beat = 1s}; // buckets of 1 s
  std::deque<double> seconds;
  double held = -1.0;
  const auto pieces = *rc::gen::inRange(1, 8);
  for (int i = 0; i < pieces; ++i) {
    const int length = *rc::gen::inRange(1, 300);
    const double value = *rc::gen::inRange(0, 10000);
    const int gap = held < 0.0 ? 0 : *rc::gen::inRange(0, 60);
    p.hold(1s * gap, gap > 0 ? lost : ppm(held < 0.0 ? value : held));
    seconds.insert(seconds.end(), static_cast<std::size_t>(gap), std::max(held, value));
    p.hold(1s * length, ppm(value));
    seconds.insert(seconds.end(), static_cast<std::size_t>(length), value);
    held = value;
  }
  while (seconds.size() > 480) seconds.pop_front();
  const auto average = p.average();
  RC_ASSERT(average.has_value() == (seconds.size() >= 60));
  if (!average) return;
  const double expected = std::accumulate(seconds.begin(), seconds.end(), 0.0) / static_cast<double>(seconds.size());
  RC_ASSERT(std::abs(average->value - expected) <= 1e-9 * (1.0 + expected));
}

} // namespace oxherd::alarms_average_test
