#include "daemon/commission/survey.hpp"

#include <gtest/gtest.h>

#include "daemon/commission/probe.hpp"
#include "tests/daemon/commission/fake_bus.hpp"

namespace oxherd::daemon::commission_test {

using commission::NumberRange;
using commission::survey;
using commission::SurveyPlan;
using drivers::Span;
using std::chrono::milliseconds;

class SurveyOfABus : public testing::Test {
protected:
  commission::SurveyHooks hooks() {
    return {.go_on =
                [this](const commission::SurveyProgress& progress) {
                  EXPECT_GE(progress.part, 0.0);
                  EXPECT_LE(progress.part, 1.0);
                  return ++asked_to_go_on_ < stop_at_;
                },
            .wait = [this](milliseconds time) { waited_ += time; }};
  }
  std::vector<Span> spans_of(const FakeDevice& device, std::vector<NumberRange> ranges = {{0, 127}}) {
    bus_.devices[7] = device;
    return commission::probe_table(bus_, 7, Table::input_register, ranges, milliseconds{100},
                                   [](double) { return true; })
        .spans;
  }

  FakeBus bus_;
  SurveyPlan plan_{.units = {{1, 20}}};
  int asked_to_go_on_ = 0;
  int stop_at_ = 1'000'000;
  milliseconds waited_{0};
};

FakeDevice with_input(std::initializer_list<int> addresses) {
  FakeDevice device;
  for (const int address : addresses) device.has[Table::input_register][address] = 1;
  return device;
}

TEST_F(SurveyOfABus, FindsUnitsThatAnswerOrRefuse) {
  bus_.devices[3].has[Table::holding_register] = {{0, 1}};
  bus_.devices[9].has[Table::input_register] = {{0, 1}}; // refuses the question about a holding register: exception 01
  const auto found = survey(bus_, plan_, hooks());
  ASSERT_TRUE(found);
  ASSERT_EQ(found->units.size(), 2U);
  EXPECT_EQ(found->units[0].unit, 3);
  EXPECT_EQ(found->units[1].unit, 9);
  EXPECT_EQ(found->asked, 20);
  EXPECT_FALSE(found->cut_short);
}

TEST_F(SurveyOfABus, TakesAGatewaysOwnExceptionForSilence) {
  for (const int code : {10, 11}) {
    bus_.nobody = BusError{BusFault::exception, code, "gateway"};
    const auto found = survey(bus_, plan_, hooks());
    ASSERT_TRUE(found);
    EXPECT_TRUE(found->units.empty()) << code;
  }
}

TEST_F(SurveyOfABus, NeverWrites) {
  bus_.devices[3].has = {{Table::holding_register, {{0, 1}, {1, 2}}},
                         {Table::input_register, {{0, 1}}},
                         {Table::coil, {{0, 1}}},
                         {Table::discrete_input, {{0, 1}}}};
  ASSERT_TRUE(survey(bus_, plan_, hooks()));
  EXPECT_EQ(bus_.writes, 0);
}

TEST_F(SurveyOfABus, ReadsWhatItFoundSixTimesOverTheTimeOfWatching) {
  bus_.devices[3].has[Table::input_register] = {{0, 100}, {1, 200}};
  bus_.devices[3].live = [](FakeDevice& device) { ++device.has[Table::input_register][0]; };
  plan_.period = milliseconds{250};
  const auto found = survey(bus_, plan_, hooks());
  ASSERT_TRUE(found);
  ASSERT_EQ(found->units.size(), 1U);
  ASSERT_EQ(found->units[0].runs.size(), 1U);
  const auto& rounds = found->units[0].runs[0].rounds;
  ASSERT_EQ(rounds.size(), 6U);
  for (std::size_t i = 1; i < rounds.size(); ++i) EXPECT_GT(rounds[i][0], rounds[i - 1][0]);
  EXPECT_EQ(waited_, milliseconds{5 * 250});
}

TEST_F(SurveyOfABus, ReadsContactsToo) {
  bus_.devices[5].has[Table::discrete_input] = {{0, 1}};
  const auto found = survey(bus_, plan_, hooks());
  ASSERT_TRUE(found);
  ASSERT_EQ(found->units.size(), 1U);
  ASSERT_EQ(found->units[0].bits.size(), 1U);
  EXPECT_TRUE(found->units[0].bits[0].on);
  EXPECT_EQ(found->units[0].bits[0].address, 0);
}

TEST_F(SurveyOfABus, LooksAtOneUnitOnlyWhenEveryNumberIsAnswered) {
  plan_.units = {{1, 40}};
  for (int unit = 1; unit <= 40; ++unit) bus_.devices[unit].has[Table::input_register] = {{0, 1}};
  const auto found = survey(bus_, plan_, hooks());
  ASSERT_TRUE(found);
  EXPECT_EQ(found->units.size(), 1U);
  ASSERT_EQ(found->notes.size(), 1U);
  EXPECT_NE(found->notes[0].find("takes no notice of the unit number"), std::string::npos);
}

TEST_F(SurveyOfABus, LooksAtAllOfThemOnALineThatIsFull) {
  for (int unit = 1; unit <= 20; ++unit) bus_.devices[unit].has[Table::input_register] = {{0, 1}};
  const auto found = survey(bus_, plan_, hooks());
  ASSERT_TRUE(found);
  EXPECT_EQ(found->units.size(), 20U);
}

TEST_F(SurveyOfABus, GivesUpWhenTheBusItselfCannotBeReached) {
  bus_.nobody = BusError{BusFault::not_connected, 0, "connection refused"};
  const auto found = survey(bus_, plan_, hooks());
  ASSERT_FALSE(found);
  EXPECT_EQ(found.error(), "connection refused");
  EXPECT_EQ(bus_.reads, 3); // not once for each unit
  EXPECT_GT(waited_, milliseconds{0});
}

TEST_F(SurveyOfABus, SaysOnceThatRepliesAreGarbled) {
  bus_.nobody = BusError{BusFault::garbled, 0, "wrong CRC"};
  const auto found = survey(bus_, plan_, hooks());
  ASSERT_TRUE(found);
  ASSERT_EQ(found->notes.size(), 1U);
  EXPECT_NE(found->notes[0].find("baud rate"), std::string::npos);
}

TEST_F(SurveyOfABus, EndsAtOnceWhenItIsToldTo) {
  bus_.devices[3].has[Table::input_register] = {{0, 1}};
  for (stop_at_ = 1; stop_at_ < 40; ++stop_at_) {
    asked_to_go_on_ = 0;
    const auto found = survey(bus_, plan_, hooks());
    ASSERT_TRUE(found);
    EXPECT_EQ(asked_to_go_on_, std::min(stop_at_, asked_to_go_on_));
    if (!found->cut_short) break; // it was through before
    EXPECT_LE(found->units.size(), 1U);
  }
  EXPECT_GT(stop_at_, 20);
  EXPECT_LT(stop_at_, 40);
}

TEST_F(SurveyOfABus, FindsHolesBetweenRegisters) {
  const std::vector<Span> expected{{Table::input_register, 0, 3}, {Table::input_register, 10, 2}};
  EXPECT_EQ(spans_of(with_input({0, 1, 2, 10, 11})), expected);
}

TEST_F(SurveyOfABus, AsksForAWholeMapInOneRequest) {
  FakeDevice device;
  for (int at = 0; at < 128; ++at) device.has[Table::input_register][at] = 1;
  const std::vector<Span> expected{{Table::input_register, 0, 125}, {Table::input_register, 125, 3}};
  EXPECT_EQ(spans_of(device), expected);
  EXPECT_EQ(bus_.reads, 2);
}

TEST_F(SurveyOfABus, LearnsHowMuchADeviceGivesInOneReply) {
  FakeDevice device;
  for (int at = 0; at < 40; ++at) device.has[Table::input_register][at] = 1;
  device.longest = 16;
  int covered = 0;
  for (const auto& span : spans_of(device, {{0, 39}})) {
    EXPECT_LE(span.count, 16);
    covered += span.count;
  }
  EXPECT_EQ(covered, 40);
}

TEST_F(SurveyOfABus, FindsValuesOfTwoRegistersThatAreOnlyGivenWhole) {
  auto device = with_input({1, 2, 3, 4});
  device.odd_pairs_only = true;
  const std::vector<Span> expected{{Table::input_register, 1, 4}};
  EXPECT_EQ(spans_of(device, {{0, 9}}), expected);
}

TEST_F(SurveyOfABus, AsksOnceForATableThatADeviceHasNot) {
  EXPECT_TRUE(spans_of(FakeDevice{}).empty());
  EXPECT_EQ(bus_.reads, 1);
}

TEST_F(SurveyOfABus, GivesUpATableThatADeviceIsSilentAbout) {
  const auto probed = commission::probe_table(bus_, 99, Table::input_register, {{0, 127}}, milliseconds{100},
                                              [](double) { return true; });
  EXPECT_TRUE(probed.spans.empty());
  EXPECT_EQ(bus_.reads, 2);
  ASSERT_EQ(probed.notes.size(), 1U);
  EXPECT_NE(probed.notes[0].find("fell silent"), std::string::npos);
}

TEST_F(SurveyOfABus, LooksAtEveryPlaceOfTheRangesOnly) {
  FakeDevice device = with_input({5, 50, 1000, 1001, 2000});
  const std::vector<Span> expected{{Table::input_register, 50, 1}, {Table::input_register, 1000, 2}};
  EXPECT_EQ(spans_of(device, {{40, 60}, {1000, 1010}}), expected);
}

TEST(LongestSearch, CountsEveryUnitAndTwiceOnASerialLine) {
  SurveyPlan plan;
  plan.timeout = milliseconds{500};
  EXPECT_EQ(commission::longest_search(plan, false), milliseconds{123500});
  EXPECT_EQ(commission::longest_search(plan, true), milliseconds{247000});
}

} // namespace oxherd::daemon::commission_test
