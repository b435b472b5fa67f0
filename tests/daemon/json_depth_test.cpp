#include "daemon/json_depth.hpp"

#include <gtest/gtest.h>

namespace oxherd::daemon::json_depth_test {

TEST(JsonDepth, CountsBracketsThatAreNoPartOfAText) {
  EXPECT_EQ(json_depth(""), 0);
  EXPECT_EQ(json_depth("12"), 0);
  EXPECT_EQ(json_depth(R"({"a":[1,{"b":2}],"c":{}})"), 3);
  EXPECT_EQ(json_depth(R"(["[[[[","a\"[[[","\\",[1]])"), 2);
}

// Closing brackets inside of a text must not make up for open ones outside.
TEST(JsonDepth, IsNotTalkedDownByBracketsInAText) { EXPECT_EQ(json_depth(R"({"a":"]]]]]]","b":[[[[1]]]]})"), 5); }

} // namespace oxherd::daemon::json_depth_test
