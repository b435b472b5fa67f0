#include "drivers/late_replies.hpp"

#include <set>

#include <gtest/gtest.h>

namespace oxherd::late_replies_test {

using namespace drivers;
using namespace std::chrono_literals;

constexpr Deadline start{};

ModbusRequest holding(std::uint16_t address, std::uint16_t count) {
  return read_request({Table::holding_register, address, count});
}

TEST(LateReplies, AreExpectedOnlyOfTheUnitAndOnlyForAWhile) {
  LateReplies late;
  late.expect(11, holding(0, 4), start + 30s);
  EXPECT_TRUE(late.possible(11, start + 29s));
  EXPECT_FALSE(late.possible(12, start + 29s));
  EXPECT_FALSE(late.possible(11, start + 30s));
}

TEST(LateReplies, AreForgottenForOneUnitAtATime) {
  LateReplies late;
  late.expect(11, holding(0, 4), start + 30s);
  late.expect(12, holding(0, 4), start + 30s);
  late.forget(11);
  EXPECT_FALSE(late.possible(11, start));
  EXPECT_TRUE(late.possible(12, start));
}

TEST(LateReplies, AreToldApartByTheirLengthWhateverTheirAddress) {
  LateReplies late;
  late.expect(11, holding(0, 4), start + 30s);
  EXPECT_EQ(late.telling_question(11, holding(100, 4)), holding(100, 3));
  EXPECT_EQ(late.telling_question(11, holding(100, 5)), holding(100, 5)) << "cannot be mistaken as it is";
  EXPECT_EQ(late.telling_question(12, holding(100, 4)), holding(100, 4));
  const ModbusRequest inputs = read_request({Table::input_register, 100, 4});
  EXPECT_EQ(late.telling_question(11, inputs), inputs) << "its function differs";
}

TEST(LateReplies, AskForMoreOnlyWhenLessIsTaken) {
  LateReplies late;
  late.expect(11, holding(0, 2), start + 30s);
  late.expect(11, holding(0, 1), start + 30s);
  EXPECT_EQ(late.telling_question(11, holding(0, 2)), holding(0, 3));
}

TEST(LateReplies, CountBitsInWholeBytes) {
  LateReplies late;
  late.expect(11, read_request({Table::coil, 0, 20}), start + 30s); // three bytes
  EXPECT_EQ(late.telling_question(11, read_request({Table::coil, 0, 17})), read_request({Table::coil, 0, 16}));
  late.expect(11, read_request({Table::coil, 0, 3}), start + 30s); // one byte
  EXPECT_EQ(late.telling_question(11, read_request({Table::coil, 0, 8})), read_request({Table::coil, 0, 16}));
}

TEST(LateReplies, LookAtThePlaceBeforeAWrite) {
  LateReplies late;
  EXPECT_EQ(late.telling_question(11, coil_request(7, true)), read_request({Table::coil, 7, 1}));
  EXPECT_EQ(late.telling_question(11, register_request(7, 500)), holding(7, 1));
  late.expect(11, holding(0, 1), start + 30s);
  EXPECT_EQ(late.telling_question(11, register_request(7, 500)), holding(7, 2));
}

TEST(LateReplies, RunOutOfQuestionsRatherThanAskAnAmbiguousOne) {
  LateReplies late;
  std::set<int> counts;
  while (const auto question = late.telling_question(11, holding(0, 4))) {
    EXPECT_TRUE(counts.insert(question->argument).second) << "asked twice: " << question->argument;
    late.expect(11, *question, start + 30s);
  }
  EXPECT_EQ(counts.size(), 125U);
  EXPECT_EQ(*counts.begin(), 1);
  EXPECT_EQ(*counts.rbegin(), 125);
}

TEST(LateReplies, NeverAskBeyondTheLastAddress) {
  LateReplies late;
  late.expect(11, holding(0, 1), start + 30s);
  EXPECT_EQ(late.telling_question(11, holding(65535, 1)), std::nullopt);
}

} // namespace oxherd::late_replies_test
