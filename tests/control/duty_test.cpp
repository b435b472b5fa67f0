#include "control/duty.hpp"

#include <set>

#include <gtest/gtest.h>

namespace oxherd::control::duty_test {

TEST(Duty, HasANameOfItsOwn) {
  std::set<std::string_view> names;
  for (const auto duty : all_duties) {
    EXPECT_FALSE(words_of(duty).empty());
    names.insert(name_of(duty));
  }
  EXPECT_EQ(names.size(), all_duties.size());
  EXPECT_FALSE(names.contains(""));
}

TEST(Duty, OfAGasIsOffWhenAnythingIsLost) {
  for (const auto duty : all_duties)
    if (facts_of(duty).gas) {
      EXPECT_EQ(facts_of(duty).safe, SafeState::off) << name_of(duty);
    }
}

TEST(Duty, ThatAirsARoomNeverRestsOffWherePeopleMayBe) {
  for (const auto duty : all_duties)
    if (facts_of(duty).airs) {
      EXPECT_NE(facts_of(duty).safe, SafeState::off) << name_of(duty);
    }
}

// Common practice, no source.
TEST(Duty, SparesACompressor) {
  const auto times = facts_of(Duty::cooling).times;
  EXPECT_EQ(times.on_least, std::chrono::minutes{3});
  EXPECT_EQ(times.off_least, std::chrono::minutes{5});
  EXPECT_EQ(times.starts_per_hour, 6);
}

TEST(Duty, OfFreshAirAndOfNitrogenPullOxygenApart) {
  EXPECT_EQ(effect_of(Duty::nitrogen_purge, ProcessValue::oxygen), Effect::lowers);
  EXPECT_EQ(effect_of(Duty::fresh_air, ProcessValue::oxygen), Effect::raises);
  EXPECT_EQ(effect_of(Duty::heating, ProcessValue::oxygen), std::nullopt);
}

TEST(ProcessValue, HasANameOfItsOwn) {
  std::set<std::string_view> names;
  for (const auto value : all_process_values) names.insert(name_of(value));
  EXPECT_EQ(names.size(), all_process_values.size());
  EXPECT_FALSE(names.contains(""));
}

} // namespace oxherd::control::duty_test
