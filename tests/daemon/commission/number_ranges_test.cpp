#include "daemon/commission/number_ranges.hpp"

#include <gtest/gtest.h>

namespace oxherd::daemon::commission_test {

using commission::number_ranges;
using commission::NumberRange;

std::vector<NumberRange> units(std::string_view text) {
  const auto ranges = number_ranges(text, {1, 247}, "unit");
  EXPECT_TRUE(ranges) << ranges.error();
  return ranges.value_or(std::vector<NumberRange>{});
}

std::string refusal(std::string_view text) {
  const auto ranges = number_ranges(text, {1, 247}, "unit");
  EXPECT_FALSE(ranges) << text;
  return ranges ? "" : ranges.error();
}

TEST(NumberRanges, AreNumbersAndRangesInAnyOrderMergedWhereTheyTouch) {
  EXPECT_EQ(units("1-247"), (std::vector<NumberRange>{{1, 247}}));
  EXPECT_EQ(units("21"), (std::vector<NumberRange>{{21, 21}}));
  EXPECT_EQ(units("20-30,5,1-4,25-40"), (std::vector<NumberRange>{{1, 5}, {20, 40}}));
  EXPECT_EQ(commission::count_of(units("20-30,5")), 12);
}

TEST(NumberRanges, OutsideWhatIsPermittedAreRefused) {
  EXPECT_NE(refusal("0-10").find("outside the units 1 to 247"), std::string::npos);
  EXPECT_NE(refusal("248").find("outside"), std::string::npos);
}

TEST(NumberRanges, ThatAreNoneAreRefusedWithAnExample) {
  for (const auto* text : {"", ",", "1,", "a", "1-", "-5", "1 - 5", "1-5-9", "99999999999", "+3"})
    EXPECT_NE(refusal(text).find("such as 1-247"), std::string::npos) << text;
}

TEST(NumberRanges, TurnedRoundAreRefusedWithTheRightOne) {
  EXPECT_NE(refusal("30-20").find("write 20-30"), std::string::npos);
}

} // namespace oxherd::daemon::commission_test
