#include "daemon/mqtt/broker_address.hpp"

#include <gtest/gtest.h>

namespace oxherd::daemon::broker_address_test {

TEST(BrokerAddress, IsReadWithAndWithoutPortAndForIpv6) {
  const auto plain = parse_broker("mqtt://127.0.0.1:1884");
  ASSERT_TRUE(plain);
  EXPECT_EQ(plain->host, "127.0.0.1");
  EXPECT_EQ(plain->port, 1884);
  EXPECT_FALSE(plain->tls);
  const auto tls = parse_broker("mqtts://broker.larkfield.example");
  ASSERT_TRUE(tls);
  EXPECT_EQ(tls->host, "broker.larkfield.example");
  EXPECT_EQ(tls->port, 8883);
  EXPECT_TRUE(tls->tls);
  const auto ipv6 = parse_broker("mqtt://[2001:db8::1]:1885");
  ASSERT_TRUE(ipv6);
  EXPECT_EQ(ipv6->host, "2001:db8::1");
  EXPECT_EQ(ipv6->port, 1885);
  EXPECT_EQ(parse_broker("mqtt://[::1]")->port, 1883);
  for (const auto* wrong :
       {"", "127.0.0.1:1883", "mqtt://", "mqtt://:1883", "mqtt://host:", "mqtt://host:0", "mqtt://host:65536",
        "mqtt://host:18a", "mqtt://host/path", "mqtt://user@host", "mqtt://[::1", "mqtt://[::1]1883", "http://host"})
    EXPECT_FALSE(parse_broker(wrong)) << wrong;
}

} // namespace oxherd::daemon::broker_address_test
