#include "drivers/modbus_request.hpp"

#include <gtest/gtest.h>

#include "tests/drivers/bytes.hpp"

namespace oxherd::modbus_request_test {

using namespace drivers;
using drivers_test::Bytes;
using drivers_test::hex;

TEST(ReadRequest, CountsOnlyWhatTheProtocolAllows) {
  // Modbus Application Protocol V1.1b3, 6.1 to 6.4.
  EXPECT_FALSE(why_impossible({Table::holding_register, 0, 125}));
  EXPECT_TRUE(why_impossible({Table::holding_register, 0, 126}));
  EXPECT_TRUE(why_impossible({Table::input_register, 0, 126}));
  EXPECT_TRUE(why_impossible({Table::holding_register, 0, 0}));
  EXPECT_FALSE(why_impossible({Table::coil, 0, 2000}));
  EXPECT_TRUE(why_impossible({Table::coil, 0, 2001}));
  EXPECT_TRUE(why_impossible({Table::discrete_input, 0, 2001}));
  EXPECT_FALSE(why_impossible({Table::holding_register, 65535, 1}));
  EXPECT_TRUE(why_impossible({Table::holding_register, 65535, 2}));
}

TEST(CheckReply, TakesOutTheSpecificationsExamples) {
  // Modbus Application Protocol V1.1b3, 6.1 to 6.4.
  const auto coils = check_reply(read_request({Table::coil, 19, 19}), hex("01 03 CD 6B 05"));
  ASSERT_TRUE(coils);
  EXPECT_EQ(*coils, (std::vector<std::uint16_t>{1, 0, 1, 1, 0, 0, 1, 1, 1, 1, 0, 1, 0, 1, 1, 0, 1, 0, 1}));
  const auto inputs = check_reply(read_request({Table::discrete_input, 196, 22}), hex("02 03 AC DB 35"));
  ASSERT_TRUE(inputs);
  EXPECT_EQ(*inputs, (std::vector<std::uint16_t>{0, 0, 1, 1, 0, 1, 0, 1, 1, 1, 0, 1, 1, 0, 1, 1, 1, 0, 1, 0, 1, 1}));
  const auto holding = check_reply(read_request({Table::holding_register, 107, 3}), hex("03 06 02 2B 00 00 00 64"));
  ASSERT_TRUE(holding);
  EXPECT_EQ(*holding, (std::vector<std::uint16_t>{555, 0, 100}));
  const auto input = check_reply(read_request({Table::input_register, 8, 1}), hex("04 02 00 0A"));
  ASSERT_TRUE(input);
  EXPECT_EQ(*input, (std::vector<std::uint16_t>{10}));
  EXPECT_TRUE(check_reply(coil_request(172, true), hex("05 00 AC FF 00")));
  EXPECT_TRUE(check_reply(register_request(1, 3), hex("06 00 01 00 03")));
  const auto refused = check_reply(read_request({Table::coil, 0x04A1, 1}), hex("81 02")); // section 7
  ASSERT_FALSE(refused);
  EXPECT_EQ(refused.error().fault, BusFault::exception);
  EXPECT_EQ(refused.error().exception_code, 2);
}

TEST(CheckReply, RefusesWhatDoesNotFitTheRequest) {
  const ModbusRequest three = read_request({Table::holding_register, 107, 3});
  for (const char* wrong : {"", "03", "03 06", "03 06 02 2B 00 00 00", "03 06 02 2B 00 00 00 64 00",
                            "03 04 02 2B 00 00", "03 04 02 2B 00 00 00 64", "03 08 02 2B 00 00 00 64 00 00",
                            "04 06 02 2B 00 00 00 64", "83", "83 02 00", "84 02", "03 00", "06 00 6B 00 03"}) {
    SCOPED_TRACE(wrong);
    const auto reply = check_reply(three, hex(wrong));
    ASSERT_FALSE(reply);
    EXPECT_EQ(reply.error().fault, BusFault::garbled);
  }
}

TEST(CheckReply, BelievesAWriteOnlyByItsEcho) {
  for (const char* wrong : {"05 00 AC 00 00", "05 00 AD FF 00", "05 00 AC FF", "05 00 AC FF 00 00", "06 00 AC FF 00"}) {
    SCOPED_TRACE(wrong);
    const auto reply = check_reply(coil_request(172, true), hex(wrong));
    ASSERT_FALSE(reply);
    EXPECT_EQ(reply.error().fault, BusFault::garbled);
  }
}

// Modbus Application Protocol V1.1b3, 6.12 (from memory): the reply repeats address and count, not the values.
TEST(RegistersRequest, SendsTheValuesAndIsConfirmedByAddressAndCount) {
  const auto request = registers_request(1, {0x000A, 0x0102});
  EXPECT_EQ(pdu_of(request), hex("10 00 01 00 02 04 00 0A 01 02"));
  EXPECT_TRUE(check_reply(request, hex("10 00 01 00 02")));
  for (const char* wrong : {"10 00 01 00 01", "10 00 02 00 02", "10 00 01 00 02 04", "06 00 01 00 02"})
    EXPECT_EQ(check_reply(request, hex(wrong)).error().fault, BusFault::garbled) << wrong;
  EXPECT_EQ(in_words(request), "writing holding registers 1 to 2");
  EXPECT_TRUE(is_write(request));
}

TEST(RegistersRequest, HasTheLimitsOfTheProtocol) {
  EXPECT_TRUE(why_unwritable(0, 0));
  EXPECT_FALSE(why_unwritable(0, 123));
  EXPECT_TRUE(why_unwritable(0, 124));
  EXPECT_FALSE(why_unwritable(65534, 2));
  EXPECT_TRUE(why_unwritable(65535, 2));
}

TEST(ExceptionInWords, NamesEachExceptionOfTheSpecification) {
  // Modbus Application Protocol V1.1b3, section 7.
  EXPECT_EQ(exception_in_words(1).substr(0, 21), "illegal function (01)");
  EXPECT_EQ(exception_in_words(2).substr(0, 25), "illegal data address (02)");
  EXPECT_EQ(exception_in_words(3).substr(0, 23), "illegal data value (03)");
  EXPECT_EQ(exception_in_words(4).substr(0, 26), "server device failure (04)");
  EXPECT_EQ(exception_in_words(5).substr(0, 16), "acknowledge (05)");
  EXPECT_EQ(exception_in_words(6).substr(0, 23), "server device busy (06)");
  EXPECT_EQ(exception_in_words(8).substr(0, 24), "memory parity error (08)");
  EXPECT_EQ(exception_in_words(10).substr(0, 29), "gateway path unavailable (0A)");
  EXPECT_EQ(exception_in_words(11).substr(0, 44), "gateway target device failed to respond (0B)");
  EXPECT_NE(exception_in_words(0x2A).find("(2A)"), std::string::npos);
}

TEST(InWords, SaysWhatWasAskedFor) {
  EXPECT_EQ(in_words(read_request({Table::holding_register, 107, 3})), "holding registers 107 to 109");
  EXPECT_EQ(in_words(read_request({Table::discrete_input, 4, 1})), "discrete input 4");
  EXPECT_EQ(in_words(coil_request(172, true)), "writing coil 172");
}

} // namespace oxherd::modbus_request_test
