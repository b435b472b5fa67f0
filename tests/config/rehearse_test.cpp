// A file whose rules are rehearsed needs no sensors; everything else is checked as for a file that goes live.
#include <algorithm>

#include "tests/config/sample.hpp"

namespace oxherd::rehearse_config_test {

using namespace config;

constexpr std::string_view rules_alone = R"([site]
name = "larkfield"
elevation = "212 m"

[room.annexe]
regime = "occupied"
oxygen_vote = "2oo3"

[room.annexe.alarm.low-oxygen]
quantity = "oxygen"
below = "19.5 %"

[room.annexe.alarm.apart]
quantity = "oxygen"
condition = "disagreement"
)";

TEST(RulesAlone, AreAcceptedToBeRehearsedAndRefusedToRun) {
  const auto rehearsed = parse(rules_alone, "rules.toml", {}, Purpose::rehearse);
  ASSERT_TRUE(rehearsed) << to_string(rehearsed.error().front());
  EXPECT_TRUE(rehearsed->warnings.empty());
  EXPECT_EQ(rehearsed->settings.rooms.front().oxygen_vote, alarms::Scheme::two_of_three);
  const auto run = parse(rules_alone, "rules.toml", {});
  ASSERT_FALSE(run);
  EXPECT_EQ(run.error().size(), 4U) << "no voters, no sensor for either alarm, and none in the room at all";
}

TEST(RulesAlone, AreHeldAgainstTheLimitsOfTheirRegime) {
  std::string lax{rules_alone};
  lax.replace(lax.find("19.5 %"), 6, "18.5 %");
  const auto loaded = parse(lax, "rules.toml", {}, Purpose::rehearse);
  ASSERT_FALSE(loaded);
  EXPECT_NE(to_string(loaded.error().front()).find("too low a limit where people are"), std::string::npos);
}

TEST(RulesAlone, AreCheckedInFullWhereARoomHasSensors) {
  std::string text{config_test::sound};
  text.replace(text.find("quantity = \"oxygen\""), 19, "quantity = \"carbon-dioxide\"");
  text.replace(text.find("below = \"19.5 %\""), 16, "above = \"5000 ppm\"");
  const auto loaded = parse(text, "rules.toml", config_test::shipped(), Purpose::rehearse);
  ASSERT_FALSE(loaded);
  EXPECT_NE(to_string(loaded.error().front()).find("no sensor that measures \"carbon-dioxide\""), std::string::npos);
}

} // namespace oxherd::rehearse_config_test
