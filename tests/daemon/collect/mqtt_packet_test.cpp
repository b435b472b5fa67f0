#include "daemon/collect/mqtt_packet.hpp"

#include <gtest/gtest.h>

namespace oxherd::daemon::collect::mqtt_packet_test {

using namespace std::string_literals;

// MQTT 5.0, 3.1: laid out by hand from the tables of that section.
TEST(AConnectPacket, AsksForAKeptSessionAndAWindow) {
  ConnectRequest request{"hist", "u", "pw", 30, 3600, 1000, 65536};
  EXPECT_EQ(connect_packet(request), "\x10\x25\x00\x04MQTT\x05\xC0\x00\x1E\x0D"
                                     "\x11\x00\x00\x0E\x10\x21\x03\xE8\x27\x00\x01\x00\x00"
                                     "\x00\x04hist\x00\x01u\x00\x02pw"s);
  request.user = request.password = std::nullopt;
  EXPECT_EQ(static_cast<unsigned char>(connect_packet(request)[9]), 0) << "flags";
}

TEST(ASubscribePacket, AsksForQosOneOfEachFilter) {
  const std::vector<std::string> filters{"a/+", "b"};
  EXPECT_EQ(subscribe_packet(7, filters), "\x82\x0D\x00\x07\x00\x00\x03"s + "a/+\x01\x00\x01"s + "b\x01"s);
}

TEST(AnAcknowledgement, IsFourBytesForEachMessage) {
  const std::vector<std::uint16_t> ids{1, 0x1234};
  EXPECT_EQ(puback_packets(ids), "\x40\x02\x00\x01\x40\x02\x12\x34"s);
}

Decoded decoded(std::string_view bytes) {
  auto one = decode_packet(bytes, 1 << 20);
  EXPECT_TRUE(one) << one.error();
  EXPECT_TRUE(one && *one);
  return one && *one ? std::move(**one) : Decoded{};
}

TEST(AReceivedPacket, IsAnAnswerToConnect) {
  const auto one = decoded("\x20\x06\x01\x00\x03\x13\x00\x0Amore"s);
  EXPECT_EQ(one.used, 8U);
  const auto answer = std::get<ConnectAnswer>(one.packet);
  EXPECT_TRUE(answer.session_present);
  EXPECT_EQ(answer.reason, 0);
  EXPECT_EQ(answer.keep_alive_s, 10);
  EXPECT_EQ(std::get<ConnectAnswer>(decoded("\x20\x03\x00\x87\x00"s).packet).reason, 0x87);
}

TEST(AReceivedPacket, OfABrokerWithoutMqtt5IsUnderstoodAsARefusal) {
  EXPECT_EQ(std::get<ConnectAnswer>(decoded("\x20\x02\x00\x01"s).packet).reason, 1);
}

TEST(AReceivedPacket, IsAMessageWithItsPropertiesPassedOver) {
  // QoS 1, retained; a user property ("a", "b") and an expiry.
  const auto one = decoded("\x33\x17\x00\x03t/x\x01\x02\x0C\x26\x00\x01"
                           "a\x00\x01"
                           "b\x02\x00\x00\x00\x09[1]"s);
  const auto message = std::get<PublishedMessage>(one.packet);
  EXPECT_EQ(message.topic, "t/x");
  EXPECT_EQ(message.payload, "[1]");
  EXPECT_EQ(message.id, 0x0102);
  EXPECT_TRUE(message.retained);
  const auto fleeting = std::get<PublishedMessage>(decoded("\x30\x05\x00\x01t\x00x"s).packet);
  EXPECT_EQ(fleeting.id, 0);
  EXPECT_FALSE(fleeting.retained);
}

TEST(AReceivedPacket, IsWaitedForUntilItIsWhole) {
  const auto whole = "\x32\x81\x01\x00\x01t\x00\x05\x00"s + std::string(123, 'x');
  for (std::size_t n = 0; n < whole.size(); ++n) {
    const auto part = decode_packet(std::string_view{whole}.substr(0, n), 1 << 20);
    ASSERT_TRUE(part) << n;
    EXPECT_FALSE(*part) << n;
  }
  EXPECT_EQ(decoded(whole).used, whole.size());
}

TEST(AReceivedPacket, ThatBreaksTheProtocolIsRefused) {
  for (const auto& wrong : {"\x34\x05\x00\x01t\x00x"s,         // QoS 2 was not asked for
                            "\x32\x06\x00\x01t\x00\x00\x00"s,  // no identifier
                            "\x30\x03\x00\x00\x00"s,           // no topic
                            "\x30\x04\x00\x09t\x00"s,          // a topic beyond the end
                            "\x30\x07\x00\x01t\x03\x7F\x00x"s, // an unknown property
                            "\x20\xFF\xFF\xFF\xFF\x7F"s, "\x10\x00"s, "\x90\x01\x00"s, "\x32\xFF\xFF\x7F"s})
    EXPECT_FALSE(decode_packet(wrong, 1 << 20)) << wrong;
}

TEST(AReasonOfABroker, SaysWhatToDo) {
  EXPECT_NE(words_of_reason(0x86).find("password"), std::string::npos);
  EXPECT_NE(words_of_reason(0x8E).find("client_id"), std::string::npos);
  EXPECT_NE(words_of_reason(0x99).find("0x99"), std::string::npos);
}

} // namespace oxherd::daemon::collect::mqtt_packet_test
