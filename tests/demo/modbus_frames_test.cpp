#include "demo/modbus_frames.hpp"

#include <string_view>

#include <gtest/gtest.h>

#include "demo/serial_server.hpp"

namespace oxherd::demo::modbus_frames_test {

using namespace std::chrono_literals;

// The check value of CRC-16/MODBUS over the digits 1 to 9: 0x4B37, sent as 37 4B.
TEST(Crc, HasItsCheckValue) {
  const std::string_view digits = "123456789";
  EXPECT_EQ(crc_of(Bytes{digits.begin(), digits.end()}), 0x4B37);
}

// Modbus Application Protocol V1.1b3, 6.3: the request 03 00 6B 00 03, wrapped for unit 0x11.
TEST(Crc, IsSentLowByteFirst) {
  EXPECT_EQ(with_crc({0x11, 0x03, 0x00, 0x6B, 0x00, 0x03}), (Bytes{0x11, 0x03, 0x00, 0x6B, 0x00, 0x03, 0x76, 0x87}));
}

TEST(RequestLength, ComesFromTheFunctionAndTheByteCount) {
  EXPECT_EQ(request_length(Bytes{0x11}), std::nullopt);
  EXPECT_EQ(request_length(Bytes{0x11, 0x04}), 8u);
  EXPECT_EQ(request_length(Bytes{0x11, 0x10, 0, 1, 0, 2}), std::nullopt);
  EXPECT_EQ(request_length(Bytes{0x11, 0x10, 0, 1, 0, 2, 4}), 13u); // V1.1b3, 6.12, with unit and CRC
  EXPECT_EQ(request_length(Bytes{0x11, 0x0F, 0, 0x13, 0, 0x0A, 2}), 11u);
}

const Bytes request = with_crc({0x01, 0x04, 0x00, 0x00, 0x00, 0x03});
const Bytes bare{request.begin(), request.end() - 2};

TEST(FrameFinder, FindsARequestThatComesInPieces) {
  FrameFinder finder;
  for (std::size_t i = 0; i < request.size(); ++i) {
    EXPECT_EQ(finder.next(), std::nullopt);
    finder.add(std::span{request}.subspan(i, 1), 1000ms);
  }
  EXPECT_EQ(finder.next(), bare);
  EXPECT_EQ(finder.next(), std::nullopt);
}

TEST(FrameFinder, FindsTwoRequestsInOneRead) {
  Bytes both = request;
  both.insert(both.end(), request.begin(), request.end());
  FrameFinder finder;
  finder.add(both, 1000ms);
  EXPECT_EQ(finder.next(), bare);
  EXPECT_EQ(finder.next(), bare);
}

TEST(FrameFinder, DropsAFrameWithAWrongCrc) {
  Bytes wrong = request;
  wrong[3] ^= 1;
  FrameFinder finder;
  finder.add(wrong, 1000ms);
  EXPECT_EQ(finder.next(), std::nullopt);
  finder.add(request, 1000ms);
  EXPECT_EQ(finder.next(), bare);
}

TEST(FrameFinder, ForgetsAHalfFrameAfterASilence) {
  FrameFinder finder;
  finder.add(std::span{request}.first(5), 1000ms);
  finder.add(request, 1000ms + FrameFinder::silence + 1ms);
  EXPECT_EQ(finder.next(), bare);
}

} // namespace oxherd::demo::modbus_frames_test
