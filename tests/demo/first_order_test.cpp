#include "demo/first_order.hpp"

#include <gtest/gtest.h>

namespace oxherd::demo::first_order_test {

// dx/dt = s - r x from x0: x(t) = s/r + (x0 - s/r) exp(-r t).
TEST(AfterConstant, IsTheExponentialSolution) {
  const double settled = 3.0 / 0.25;
  EXPECT_NEAR(after_constant(2.0, 3.0, 0.25, 7.0), settled + (2.0 - settled) * std::exp(-1.75), 1e-12);
}

TEST(AfterConstant, IsAStraightLineWhenNothingRunsOff) { EXPECT_EQ(after_constant(2.0, 3.0, 0.0, 7.0), 23.0); }

TEST(AfterConstant, GivesInOneStepWhatItGivesInMany) {
  double many = 2.0;
  for (int i = 0; i < 700; ++i) many = after_constant(many, 3.0, 0.25, 0.01);
  EXPECT_NEAR(many, after_constant(2.0, 3.0, 0.25, 7.0), 1e-11);
}

TEST(DeadTime, GivesEveryChangeAFixedTimeLater) {
  DeadTime duct{20.0};
  const auto input = [](double now_s) { return now_s >= 5.0 && now_s < 7.0 ? 1.0 : now_s >= 30.0 ? 0.5 : 0.0; };
  for (int now = 1; now <= 60; ++now)
    EXPECT_EQ(duct.after(input(now), now), now <= 20 ? 0.0 : input(now - 20)) << now << " s";
}

TEST(DeadTime, OfNothingIsNoDelay) {
  DeadTime none{0.0, 1.0};
  EXPECT_EQ(none.after(1.0, 1.0), 1.0);
  EXPECT_EQ(none.after(0.25, 2.0), 0.25);
}

} // namespace oxherd::demo::first_order_test
