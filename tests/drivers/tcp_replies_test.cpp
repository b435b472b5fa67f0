// Replies to several requests that were on their way at once. Frames after the TCP guide V1.0b, 3.1.3.
#include "drivers/tcp_replies.hpp"

#include <gtest/gtest.h>

#include "tests/drivers/bytes.hpp"

namespace oxherd::tcp_replies_test {

using namespace drivers;
using drivers_test::Bytes;
using drivers_test::hex;
using Words = std::vector<std::uint16_t>;

std::vector<OnItsWay> two_on_their_way() {
  return {{0, {7, 11}, read_request({Table::holding_register, 0, 1})},
          {1, {8, 12}, read_request({Table::holding_register, 5, 2})}};
}

const Bytes of_first = hex("00 07 00 00 00 05 0B 03 02 12 34");
const Bytes of_second = hex("00 08 00 00 00 07 0C 03 04 00 01 00 02");

Bytes behind(Bytes a, const Bytes& b) {
  a.insert(a.end(), b.begin(), b.end());
  return a;
}

TEST(TcpReplies, TakesThemInWhateverOrderTheyCome) {
  for (const auto& bytes : {behind(of_first, of_second), behind(of_second, of_first)}) {
    auto waiting = two_on_their_way();
    AnswersTogether answers(2);
    EXPECT_EQ(take_replies(bytes, waiting, answers), bytes.size());
    EXPECT_TRUE(waiting.empty());
    EXPECT_EQ(answers, (AnswersTogether{Words{0x1234}, Words{1, 2}}));
  }
}

TEST(TcpReplies, LeavesTheBeginningOfOneForLater) {
  const auto bytes = behind(of_first, of_second);
  for (std::size_t there = 0; there < bytes.size(); ++there) {
    auto waiting = two_on_their_way();
    AnswersTogether answers(2);
    const auto taken = take_replies(std::span{bytes}.first(there), waiting, answers);
    EXPECT_EQ(taken, there < of_first.size() ? 0 : of_first.size()) << there;
    EXPECT_EQ(waiting.size(), there < of_first.size() ? 2U : 1U);
    EXPECT_FALSE(answers[1]);
  }
}

TEST(TcpReplies, TakesAnExceptionForAReplyWithoutWords) {
  auto waiting = two_on_their_way();
  AnswersTogether answers(2);
  const auto bytes = behind(hex("00 07 00 00 00 03 0B 83 0B"), of_second);
  EXPECT_EQ(take_replies(bytes, waiting, answers), bytes.size());
  EXPECT_EQ(answers, (AnswersTogether{std::nullopt, Words{1, 2}}));
}

// Modbus Application Protocol V1.1b3, 6.5: the normal response of a write is the echo of its request.
TEST(TcpReplies, TakesTheEchoOfAWriteForItsConfirmation) {
  std::vector<OnItsWay> waiting{{0, {7, 11}, coil_request(172, true)}, {1, {8, 12}, coil_request(172, true)}};
  AnswersTogether answers(2);
  const auto bytes = behind(hex("00 08 00 00 00 03 0C 85 04"), hex("00 07 00 00 00 06 0B 05 00 AC FF 00"));
  EXPECT_EQ(take_replies(bytes, waiting, answers), bytes.size());
  EXPECT_EQ(answers, (AnswersTogether{Words{}, std::nullopt})) << "the other was refused";
}

TEST(TcpReplies, RefusesWhatNobodyWaitsFor) {
  const std::vector<std::pair<const char*, Bytes>> wrong{
      {"a transaction that is not on its way", hex("00 09 00 00 00 05 0B 03 02 12 34")},
      {"the same reply twice", behind(of_first, of_first)},
      {"another unit", hex("00 07 00 00 00 05 0C 03 02 12 34")},
      {"another protocol", hex("00 07 00 01 00 05 0B 03 02 12 34")},
      {"another length", hex("00 07 00 00 00 07 0B 03 04 12 34 56 78")},
      {"another function", hex("00 07 00 00 00 05 0B 04 02 12 34")}};
  for (const auto& [what, bytes] : wrong) {
    auto waiting = two_on_their_way();
    AnswersTogether answers(2);
    EXPECT_FALSE(take_replies(bytes, waiting, answers)) << what;
    EXPECT_FALSE(answers[1]);
  }
}

} // namespace oxherd::tcp_replies_test
