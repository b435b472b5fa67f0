#include "control/programs/ramp.hpp"

#include <cmath>

#include <gtest/gtest.h> // before rapidcheck, whose header needs its names

#include <rapidcheck/gtest.h>

namespace oxherd::control::ramp_test {

using std::chrono::hours;
using std::chrono::minutes;

TEST(Ramp, WithoutTimeOrRateIsAJump) {
  EXPECT_EQ(time_of({}, 18.0, 22.0), Monotonic{0});
  EXPECT_EQ(motion_at({}, 18.0, 22.0, Monotonic{0}).value, 22.0);
}

TEST(Ramp, TakesItsTime) {
  const Ramp ramp{.over = hours{2}, .most_per_h = {}};
  const auto middle = motion_at(ramp, 18.0, 22.0, minutes{30});
  EXPECT_DOUBLE_EQ(middle.value, 19.0);
  EXPECT_DOUBLE_EQ(middle.rate_per_h, 2.0);
  EXPECT_EQ(middle.left, minutes{90});
  const auto end = motion_at(ramp, 18.0, 22.0, hours{2});
  EXPECT_EQ(end.value, 22.0);
  EXPECT_EQ(end.rate_per_h, 0.0);
}

TEST(Ramp, OfARateTakesTheTimeOfItsWay) {
  const Ramp ramp{.over = {}, .most_per_h = 2.0};
  EXPECT_EQ(time_of(ramp, 22.0, 18.0), hours{2});
  EXPECT_DOUBLE_EQ(motion_at(ramp, 22.0, 18.0, hours{1}).value, 20.0);
  EXPECT_DOUBLE_EQ(motion_at(ramp, 22.0, 18.0, hours{1}).rate_per_h, -2.0);
}

TEST(Ramp, IsTheSlowerOfBoth) {
  EXPECT_EQ(time_of({.over = hours{3}, .most_per_h = 2.0}, 18.0, 22.0), hours{3});
  EXPECT_EQ(time_of({.over = hours{1}, .most_per_h = 2.0}, 18.0, 22.0), hours{2});
  EXPECT_EQ(time_of(no_faster({.over = hours{1}, .most_per_h = {}}, 2.0), 18.0, 22.0), hours{2});
  EXPECT_EQ(no_faster({.over = {}, .most_per_h = 1.0}, 2.0).most_per_h, 1.0);
}

TEST(Ramp, ThatHasNowhereToGoIsOver) {
  EXPECT_EQ(time_of({.over = hours{3}, .most_per_h = 1.0}, 20.0, 20.0), Monotonic{0});
}

TEST(Ramp, OfARateNearZeroIsLongAndNotUndefined) {
  EXPECT_EQ(time_of({.over = {}, .most_per_h = 1e-300}, 0.0, 1.0), hours{24 * 3650});
}

RC_GTEST_PROP(Ramp, StaysBetweenItsEndsAndWithinItsRate, ()) {
  const double from = *rc::gen::inRange(-4000, 4001) / 100.0, to = *rc::gen::inRange(-4000, 4001) / 100.0;
  Ramp ramp{.over = minutes{*rc::gen::inRange(0, 600)}, .most_per_h = {}};
  if (*rc::gen::arbitrary<bool>()) ramp.most_per_h = *rc::gen::inRange(1, 1000) / 100.0;
  const Monotonic since{*rc::gen::inRange(0, 40'000'000)};
  const auto motion = motion_at(ramp, from, to, since);
  RC_ASSERT(motion.value >= std::min(from, to) && motion.value <= std::max(from, to));
  if (ramp.most_per_h) RC_ASSERT(std::abs(motion.rate_per_h) <= *ramp.most_per_h * (1.0 + 1e-12));
}

RC_GTEST_PROP(Moved, ArrivesAndNeverGoesFasterOrTooFar, ()) {
  const double most = *rc::gen::inRange(1, 1000) / 100.0;
  const double target = *rc::gen::inRange(-4000, 4001) / 100.0;
  double value = *rc::gen::inRange(-4000, 4001) / 100.0;
  const double way = std::abs(target - value);
  Monotonic spent{0};
  while (value != target) {
    const Monotonic elapsed{*rc::gen::inRange(60'000, 7'200'000)};
    const double next = moved(value, target, most, elapsed);
    RC_ASSERT(std::abs(next - value) <= most * alarms::seconds_of(elapsed) / 3600.0 * (1.0 + 2e-9));
    RC_ASSERT(std::abs(target - next) < std::abs(target - value));
    value = next;
    spent += elapsed;
  }
  RC_ASSERT(alarms::seconds_of(spent) / 3600.0 >= way / most * (1.0 - 1e-8));
}

} // namespace oxherd::control::ramp_test
