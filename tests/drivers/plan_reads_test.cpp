#include <algorithm>
#include <array>
#include <cstdlib>
#include <random>
#include <set>
#include <vector>

#include <gtest/gtest.h>

#include "drivers/poll.hpp"

namespace oxherd::plan_reads_test {

using namespace drivers;

Point at(int address, Encoding encoding = Encoding::uint16, Table table = Table::holding_register) {
  return {.table = table, .address = static_cast<std::uint16_t>(address), .encoding = encoding};
}

Span holding(int address, int count) {
  return {Table::holding_register, static_cast<std::uint16_t>(address), static_cast<std::uint16_t>(count)};
}

TEST(PlanReads, NeedsNoRequestForNothing) { EXPECT_TRUE(plan_reads({}, {}).empty()); }

TEST(PlanReads, JoinsNeighboursAndReadsAlongSmallGapsOnly) {
  const RegisterMap map{.points = {at(0), at(1), at(10), at(20)}, .status = {}};
  EXPECT_EQ(plan_reads(map, {.gap_max = 8}), (std::vector{holding(0, 11), holding(20, 1)}));
  EXPECT_EQ(plan_reads(map, {.gap_max = 9}), (std::vector{holding(0, 21)}));
  EXPECT_EQ(plan_reads(map, {.gap_max = 0}), (std::vector{holding(0, 2), holding(10, 1), holding(20, 1)}));
}

TEST(PlanReads, KeepsToTheLongestRequestWithoutSplittingAValue) {
  const RegisterMap map{.points = {at(0), at(1, Encoding::float32), at(3)}, .status = {}};
  EXPECT_EQ(plan_reads(map, {.length_max = 2}), (std::vector{holding(0, 1), holding(1, 2), holding(3, 1)}));
  EXPECT_EQ(plan_reads(map, {.length_max = 3}), (std::vector{holding(0, 3), holding(3, 1)}));
  EXPECT_EQ(plan_reads({.points = {at(7, Encoding::float64)}, .status = {}}, {.length_max = 1}),
            (std::vector{holding(7, 4)}));
}

TEST(PlanReads, NeverExceedsTheProtocolsLimitWhateverIsConfigured) {
  RegisterMap map;
  for (int i = 0; i < 300; ++i) map.points.push_back(at(i));
  EXPECT_EQ(plan_reads(map, {.length_max = 1000}), (std::vector{holding(0, 125), holding(125, 125), holding(250, 50)}));
}

TEST(PlanReads, NeverMixesTables) {
  const RegisterMap map{.points = {at(0), at(1, Encoding::uint16, Table::input_register), at(2),
                                   at(0, Encoding::bit, Table::coil), at(1, Encoding::bit, Table::discrete_input)},
                        .status = {}};
  EXPECT_EQ(plan_reads(map, {}), (std::vector<Span>{{Table::coil, 0, 1},
                                                    {Table::discrete_input, 1, 1},
                                                    {Table::input_register, 1, 1},
                                                    {Table::holding_register, 0, 3}}));
}

TEST(PlanReads, CoversStatusRegistersAsWell) {
  const RegisterMap map{.points = {at(4)}, .status = {{.address = 6, .mask = 1}, {.address = 100, .mask = 2}}};
  EXPECT_EQ(plan_reads(map, {}), (std::vector{holding(4, 3), holding(100, 1)}));
}

TEST(PlanReads, ReadsOverlappingValuesTogether) {
  const RegisterMap map{.points = {at(0, Encoding::float64), at(1), at(2, Encoding::uint32), at(0)}, .status = {}};
  EXPECT_EQ(plan_reads(map, {}), (std::vector{holding(0, 4)}));
  EXPECT_EQ(plan_reads(map, {.length_max = 2}), (std::vector{holding(0, 4)}));
}

/// Everything the plan promises, for one map.
void expect_promises_kept(const RegisterMap& map, ReadLimits limits) {
  const auto plan = plan_reads(map, limits);
  std::set<std::pair<Table, int>> used;
  for (const Point& point : map.points) {
    const int end = point.address + words_of(point.encoding);
    for (int a = point.address; a < end; ++a) used.insert({point.table, a});
    EXPECT_TRUE(std::any_of(plan.begin(), plan.end(),
                            [&](const Span& span) {
                              return span.table == point.table && span.address <= point.address &&
                                     end <= span.address + span.count;
                            }))
        << "point at " << point.address;
  }
  for (const Span& span : plan) {
    EXPECT_LE(span.count, std::max(4, std::min(125, limits.length_max)));
    EXPECT_TRUE(used.contains({span.table, span.address})) << "begins with an unused register";
    EXPECT_TRUE(used.contains({span.table, span.address + span.count - 1})) << "ends with an unused register";
    int gap = 0;
    for (int a = span.address; a < span.address + span.count; ++a) {
      gap = used.contains({span.table, a}) ? 0 : gap + 1;
      EXPECT_LE(gap, limits.gap_max);
    }
  }
}

TEST(PlanReads, KeepsItsPromisesForRandomMaps) {
  const char* given = std::getenv("OXHERD_SEED");
  const auto seed = given != nullptr ? static_cast<unsigned>(std::atoi(given)) : std::random_device{}();
  SCOPED_TRACE(testing::Message() << "repeat with OXHERD_SEED=" << seed);
  std::mt19937 random{seed};
  const auto pick = [&](int low, int high) { return std::uniform_int_distribution{low, high}(random); };
  constexpr std::array encodings{Encoding::int16,  Encoding::uint16,  Encoding::int32,
                                 Encoding::uint32, Encoding::float32, Encoding::float64};
  for (int round = 0; round < 500 && !testing::Test::HasFailure(); ++round) {
    RegisterMap map;
    const int span = pick(4, 600);
    for (int i = pick(1, 60); i > 0; --i)
      map.points.push_back(at(pick(0, span), encodings[static_cast<std::size_t>(pick(0, 5))],
                              pick(0, 1) == 0 ? Table::input_register : Table::holding_register));
    expect_promises_kept(map, {.gap_max = pick(0, 12), .length_max = pick(1, 150)});
  }
}

} // namespace oxherd::plan_reads_test
