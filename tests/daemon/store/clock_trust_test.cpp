#include "daemon/store/clock_trust.hpp"

#include <gtest/gtest.h>

namespace oxherd::daemon::clock_trust_test {

using namespace std::chrono_literals;
using store::ClockTrust;

constexpr WallTime noon{1772366400000ms};

TEST(ClockTrust, BelievesAClockThatRunsEvenlyOrIsCorrectedALittle) {
  ClockTrust trust;
  EXPECT_TRUE(trust.believes(noon, 0ms));
  EXPECT_TRUE(trust.believes(noon + 24h, 24h));
  EXPECT_TRUE(trust.believes(noon + 48h + 30min, 48h)) << "half an hour is nothing to what is kept";
}

TEST(ClockTrust, DoubtsAClockForADayAfterItWasSteppedEitherWay) {
  for (const auto stepped : {24h * 365, -2h}) {
    ClockTrust trust;
    EXPECT_TRUE(trust.believes(noon, 0ms));
    EXPECT_FALSE(trust.believes(noon + stepped, 0ms + 1s));
    EXPECT_FALSE(trust.believes(noon + stepped + 23h, 23h));
    EXPECT_TRUE(trust.believes(noon + stepped + 25h, 25h));
  }
}

TEST(ClockTrust, DoubtsItAgainWhenItIsSetRight) {
  ClockTrust trust;
  EXPECT_TRUE(trust.believes(noon, 0ms));
  EXPECT_FALSE(trust.believes(noon + 24h * 365, 1h));
  EXPECT_FALSE(trust.believes(noon + 2h, 2h));
  EXPECT_FALSE(trust.believes(noon + 25h, 25h)) << "a day from the last step";
  EXPECT_TRUE(trust.believes(noon + 27h, 27h));
}

} // namespace oxherd::daemon::clock_trust_test
