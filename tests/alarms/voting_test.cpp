#include "alarms/voting.hpp"

#include <gtest/gtest.h>

namespace oxherd::alarms_voting_test {

using namespace alarms;

struct Row {
  int yes, no, faulted;
  Verdict verdict;
};

template <std::size_t N> void expect_table(Scheme scheme, const Row (&table)[N]) {
  const int channels = channels_of(scheme);
  // Every way to split the channels over three kinds of vote, so that no row is missing.
  EXPECT_EQ(static_cast<int>(N), (channels + 1) * (channels + 2) / 2);
  for (const auto& row : table) {
    SCOPED_TRACE(testing::Message() << row.yes << " yes, " << row.no << " no, " << row.faulted << " faulted");
    EXPECT_EQ(row.yes + row.no + row.faulted, channels);
    EXPECT_EQ(vote(scheme, {row.yes, row.no, row.faulted}), row.verdict);
  }
}

TEST(Vote, OneOutOfOneHoldsItsLastDecisionWhenFaulted) {
  expect_table(Scheme::one_of_one, {{0, 1, 0, Verdict::no}, {1, 0, 0, Verdict::yes}, {0, 0, 1, Verdict::undecided}});
}

TEST(Vote, OneOutOfTwoTripsOnEitherAndOnTwoFaults) {
  expect_table(Scheme::one_of_two, {{0, 2, 0, Verdict::no},
                                    {1, 1, 0, Verdict::yes},
                                    {2, 0, 0, Verdict::yes},
                                    {0, 1, 1, Verdict::no},
                                    {1, 0, 1, Verdict::yes},
                                    {0, 0, 2, Verdict::yes}});
}

TEST(Vote, TwoOutOfTwoNeedsBothUnlessOneIsFaulted) {
  expect_table(Scheme::two_of_two, {{0, 2, 0, Verdict::no},
                                    {1, 1, 0, Verdict::no},
                                    {2, 0, 0, Verdict::yes},
                                    {0, 1, 1, Verdict::no},
                                    {1, 0, 1, Verdict::yes},
                                    {0, 0, 2, Verdict::yes}});
}

TEST(Vote, TwoOutOfThreeCountsAFaultAsAVoteToTrip) {
  expect_table(Scheme::two_of_three, {{0, 3, 0, Verdict::no},
                                      {1, 2, 0, Verdict::no},
                                      {2, 1, 0, Verdict::yes},
                                      {3, 0, 0, Verdict::yes},
                                      {0, 2, 1, Verdict::no},
                                      {1, 1, 1, Verdict::yes},
                                      {2, 0, 1, Verdict::yes},
                                      {0, 1, 2, Verdict::yes},
                                      {1, 0, 2, Verdict::yes},
                                      {0, 0, 3, Verdict::yes}});
}

TEST(Vote, ABallotThatDoesNotFitTheSchemeStopsTheProgram) {
  EXPECT_DEATH((void)vote(Scheme::two_of_three, {1, 1, 0}), "channels_of");
}

TEST(Voting, TellsMonitoredFromDegraded) {
  struct Case {
    Scheme scheme;
    int faulted;
    bool monitored, degraded;
  };
  constexpr Case cases[] = {{Scheme::one_of_one, 0, true, false},    {Scheme::one_of_one, 1, false, false},
                            {Scheme::one_of_two, 0, true, false},    {Scheme::one_of_two, 1, true, true},
                            {Scheme::one_of_two, 2, false, false},   {Scheme::two_of_two, 0, true, false},
                            {Scheme::two_of_two, 1, true, true},     {Scheme::two_of_two, 2, false, false},
                            {Scheme::two_of_three, 0, true, false},  {Scheme::two_of_three, 1, true, true},
                            {Scheme::two_of_three, 2, false, false}, {Scheme::two_of_three, 3, false, false}};
  for (const auto& c : cases) {
    SCOPED_TRACE(testing::Message() << name_of(c.scheme) << ", " << c.faulted << " faulted");
    EXPECT_EQ(is_monitored(c.scheme, c.faulted), c.monitored);
    EXPECT_EQ(is_degraded(c.scheme, c.faulted), c.degraded);
  }
}

TEST(Voting, SchemesAreNamedByTheirNumbers) {
  EXPECT_EQ(name_of(Scheme::one_of_one), "1oo1");
  EXPECT_EQ(name_of(Scheme::one_of_two), "1oo2");
  EXPECT_EQ(name_of(Scheme::two_of_two), "2oo2");
  EXPECT_EQ(name_of(Scheme::two_of_three), "2oo3");
  for (const auto scheme : {Scheme::one_of_one, Scheme::one_of_two, Scheme::two_of_two, Scheme::two_of_three})
    EXPECT_EQ(scheme_named(name_of(scheme)), scheme);
  EXPECT_EQ(scheme_named("3oo3"), std::nullopt);
  EXPECT_EQ(scheme_named(""), std::nullopt);
}

} // namespace oxherd::alarms_voting_test
