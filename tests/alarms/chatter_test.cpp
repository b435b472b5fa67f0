#include "alarms/chatter.hpp"

#include <gtest/gtest.h>

namespace oxherd::alarms_chatter_test {

using namespace alarms;
using namespace std::chrono_literals;

Chatter occurring(std::initializer_list<Monotonic> times) {
  Chatter chatter;
  for (const auto t : times) chatter = after_occurrence(after_quiet(chatter, t), t);
  return chatter;
}

TEST(Chatter, BeginsWithTheThirdOccurrenceWithinAMinute) {
  EXPECT_FALSE(occurring({0s, 20s}).chattering);
  EXPECT_TRUE(occurring({0s, 20s, 60s}).chattering);
  EXPECT_FALSE(occurring({0s, 20s, 60001ms}).chattering);
  EXPECT_TRUE(occurring({0s, 20s, 61s, 75s}).chattering) << "any three in a row count";
}

TEST(Chatter, EndsAfterTenMinutesWithoutAnOccurrence) {
  const auto chatter = occurring({0s, 20s, 40s});
  EXPECT_TRUE(after_quiet(chatter, 40s + 10min - 1ms).chattering);
  EXPECT_EQ(after_quiet(chatter, 40s + 10min), Chatter{});
  EXPECT_TRUE(after_quiet(occurring({0s, 20s, 40s, 5min}), 40s + 10min).chattering) << "it came once more meanwhile";
}

} // namespace oxherd::alarms_chatter_test
