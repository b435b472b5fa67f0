#include "control/conditions.hpp"

#include <bitset>
#include <map>
#include <set>

#include <gtest/gtest.h>

namespace oxherd::control::conditions_test {

/// The table a second time, as a person would write it on a sheet: M must always hold, F where it is fitted.
/// Common practice, no source.
const std::map<Duty, std::map<std::string_view, char>>& sheet() {
  static const std::map<std::string_view, char> any_gas{{"oxygen-measured", 'M'},
                                                        {"no-safety-alarm", 'M'},
                                                        {"device-holds", 'M'},
                                                        {"not-tripped", 'M'},
                                                        {"door-closed", 'F'},
                                                        {"nobody-in", 'F'},
                                                        {"over-pressure-measured", 'F'},
                                                        {"over-pressure-within", 'F'},
                                                        {"relief-free", 'F'}};
  static const auto with = [](std::map<std::string_view, char> base, const std::map<std::string_view, char>& more) {
    for (const auto& [name, need] : more) base[name] = need;
    return base;
  };
  static const std::map<Duty, std::map<std::string_view, char>> all{
      {Duty::nitrogen_purge, with(any_gas, {{"sealed", 'M'},
                                            {"door-closed", 'M'},
                                            {"started-by-person", 'M'},
                                            {"within-longest-run", 'M'},
                                            {"oxygen-falls", 'M'},
                                            {"entry-withheld", 'F'}})},
      {Duty::carbon_dioxide_dosing, with(any_gas, {{"carbon-dioxide-measured", 'M'},
                                                   {"carbon-dioxide-below-ceiling", 'M'},
                                                   {"vents-closed", 'F'},
                                                   {"lights-on", 'F'},
                                                   {"air-circulates", 'F'}})},
      {Duty::ethylene_dosing, with(any_gas, {{"vents-closed", 'F'}, {"air-circulates", 'F'}})},
      {Duty::scrubbing,
       {{"carbon-dioxide-measured", 'M'},
        {"started-by-person", 'M'},
        {"not-tripped", 'M'},
        {"over-pressure-measured", 'F'},
        {"over-pressure-within", 'F'},
        {"relief-free", 'F'}}},
      {Duty::heating, {{"air-circulates", 'F'}}},
      {Duty::fresh_air, {}},
      {Duty::ventilation, {}},
      {Duty::circulation, {}},
      {Duty::cooling, {}},
      {Duty::humidifying, {}},
      {Duty::drying, {}}};
  return all;
}

std::uint32_t mask_of(const std::map<std::string_view, char>& needs, char need) {
  std::uint32_t mask = 0;
  for (const auto& [name, is] : needs)
    if (is == need) mask |= 1U << index_of(condition_named(name).value());
  return mask;
}

TEST(Conditions, HaveNamesThatReadBack) {
  std::set<std::string_view> names;
  for (const auto condition : all_conditions()) {
    EXPECT_EQ(condition_named(name_of(condition)), condition);
    EXPECT_FALSE(words_of(condition).empty());
    names.insert(name_of(condition));
  }
  EXPECT_EQ(names.size(), condition_count);
  EXPECT_EQ(condition_named("door"), std::nullopt);
}

TEST(Conditions, AreThoseOfTheSheetForEveryDuty) {
  for (const auto duty : all_duties)
    for (const auto condition : all_conditions()) {
      const auto& needs = sheet().at(duty);
      const auto found = needs.find(name_of(condition));
      const Need expected = found == needs.end() ? Need::none : found->second == 'M' ? Need::always : Need::if_fitted;
      EXPECT_EQ(need_of(duty, condition), expected) << name_of(duty) << ' ' << name_of(condition);
    }
}

// Every combination of what holds and what fails among those that count for the duty; that the others never count is
// shown below, pair by pair.
TEST(Conditions, BlockInEveryCombinationJustWhereOneThatCountsFails) {
  for (const auto duty : all_duties) {
    const auto counts = mask_of(sheet().at(duty), 'M') | mask_of(sheet().at(duty), 'F');
    Facts facts;
    std::uint32_t failing = 0;
    do {
      for (std::size_t i = 0; i < condition_count; ++i)
        facts.truth[i] = (failing >> i & 1U) != 0 ? Truth::fails : Truth::holds;
      std::uint32_t told = 0;
      for (const auto& block : blocks(duty, {}, facts)) told |= 1U << index_of(block.condition);
      ASSERT_EQ(told, failing) << name_of(duty) << ' ' << std::bitset<condition_count>{failing};
      failing = (failing - counts) & counts; // the next subset
    } while (failing != 0);
  }
}

// What is unknown counts as failing, and what is not fitted only where it must be. Each pair of conditions, each of
// five truths: no condition hides another.
TEST(Conditions, ThatNobodyKnowsBlockAndThoseNotFittedWhereTheyMust) {
  constexpr std::array truths{Truth::not_fitted, Truth::holds, Truth::fails, Truth::unknown, Truth::missed};
  for (const auto duty : all_duties) {
    const auto always = mask_of(sheet().at(duty), 'M'), if_fitted = mask_of(sheet().at(duty), 'F');
    const auto is_told = [&](std::size_t i, Truth truth) {
      if (truth == Truth::holds) return false;
      if (truth == Truth::not_fitted) return (always >> i & 1U) != 0;
      return ((always | if_fitted) >> i & 1U) != 0;
    };
    for (std::size_t a = 0; a < condition_count; ++a)
      for (std::size_t b = 0; b < a; ++b)
        for (const auto of_a : truths)
          for (const auto of_b : truths) {
            Facts facts;
            facts.truth.fill(Truth::holds);
            facts.truth[a] = of_a;
            facts.truth[b] = of_b;
            const auto found = blocks(duty, {}, facts);
            const std::size_t expected = (is_told(a, of_a) ? 1U : 0U) + (is_told(b, of_b) ? 1U : 0U);
            ASSERT_EQ(found.size(), expected) << name_of(duty) << ' ' << a << ' ' << b;
            for (const auto& block : found) {
              const auto truth = index_of(block.condition) == a ? of_a : of_b;
              EXPECT_EQ(block.truth, truth);
            }
          }
  }
}

TEST(Conditions, ThatTheFileAddsMustHoldEvenWhereNothingIsFitted) {
  const std::array asked{Condition::lights_on};
  Facts facts;
  EXPECT_TRUE(blocks(Duty::humidifying, {}, facts).empty());
  ASSERT_EQ(blocks(Duty::humidifying, asked, facts).size(), 1U);
  facts.set(Condition::lights_on, Truth::fails, "the lights are off");
  EXPECT_EQ(blocks(Duty::humidifying, asked, facts).front().because, "the lights are off");
  facts.set(Condition::lights_on, Truth::holds);
  EXPECT_TRUE(blocks(Duty::humidifying, asked, facts).empty());
}

TEST(Conditions, OfADosingThatComeAndGoWithTheDayTripNothing) {
  for (const auto condition : {Condition::lights_on, Condition::vents_closed, Condition::door_closed})
    EXPECT_FALSE(trips(Duty::carbon_dioxide_dosing, condition)) << name_of(condition);
  EXPECT_TRUE(trips(Duty::carbon_dioxide_dosing, Condition::no_safety_alarm));
  EXPECT_TRUE(trips(Duty::carbon_dioxide_dosing, Condition::device_holds));
}

TEST(Conditions, OfAPurgeEndItForGood) {
  for (const auto condition : all_conditions()) {
    const bool is_of_itself = condition == Condition::started_by_person || condition == Condition::not_tripped;
    if (need_of(Duty::nitrogen_purge, condition) == Need::none || is_of_itself) continue;
    EXPECT_TRUE(trips(Duty::nitrogen_purge, condition)) << name_of(condition);
  }
}

TEST(Conditions, NeverKeepARoomFromBeingAired) {
  for (const auto duty : {Duty::ventilation, Duty::fresh_air})
    for (const auto condition : all_conditions()) EXPECT_EQ(need_of(duty, condition), Need::none);
}

} // namespace oxherd::control::conditions_test
