#include "daemon/sparkplug/payload.hpp"

#include <gtest/gtest.h>

#include <fmt/format.h>

#include "tests/daemon/sparkplug/read_payload.hpp"

// The bytes are those that Google's library for Python makes of the same messages with the schema as the standard has
// it (the classes of tests/system/sparkplug_peer.py).
namespace oxherd::daemon::sparkplug_test {

using namespace sparkplug;

std::string hex(std::string_view bytes) {
  std::string text;
  for (const char c : bytes) text += fmt::format("{:02x}", static_cast<unsigned char>(c));
  return text;
}

std::string bytes_of(std::string_view hex_digits) {
  std::string bytes;
  for (std::size_t i = 0; i < hex_digits.size(); i += 2)
    bytes += static_cast<char>(std::stoi(std::string{hex_digits.substr(i, 2)}, nullptr, 16));
  return bytes;
}

TEST(SparkplugPayload, IsADeathByteForByte) {
  EXPECT_EQ(hex(death_payload(7, at_second(0))), "08d081dec3ca3312120a05626453657118d081dec3ca3320045807");
}

TEST(SparkplugPayload, IsABirthByteForByte) {
  const Definition temperature{"air/temperature", Datatype::float64, "Cel"}, door{"air/door", Datatype::boolean, {}},
      number{"n", Datatype::int32, {}};
  const std::vector<Told> metrics{{&temperature, {-21.5, at_second(0), true}},
                                  {&door, {std::monostate{}, at_second(0), false}},
                                  {&number, {std::int64_t{-2}, at_second(0), true}}};
  EXPECT_EQ(
      hex(birth_payload(metrics, 255, at_second(0) + 500ms)),
      "08c485dec3ca3312440a0f6169722f74656d706572617475726518d081dec3ca33200a4a1f0a075175616c6974790a04756e6974120508"
      "0318c0011207080c420343656c6900000000008035c012260a086169722f646f6f7218d081dec3ca33200b38014a0f0a075175616c69"
      "747912040803180012240a016e18d081dec3ca3320034a100a075175616c6974791205080318c00150feffffff0f18ff01");
}

TEST(SparkplugPayload, IsACommandFromBytesWithFieldsThatAreNotUsedHere) {
  const auto command =
      read_command(bytes_of("08c485dec3ca3312200a144e6f646520436f6e74726f6c2f5265626972746810031805200b3001"
                            "700112071009820102ff001801"));
  ASSERT_TRUE(command);
  EXPECT_TRUE(command->rebirth);
  EXPECT_EQ(command->others, 1U);
  EXPECT_EQ(command->first_other, "");
}

TEST(SparkplugPayload, IsARebirthOnlyWithTheBooleanTrue) {
  sparkplug_b::Payload payload;
  auto& metric = *payload.add_metrics();
  metric.set_name("Node Control/Rebirth");
  metric.set_int_value(1);
  EXPECT_FALSE(read_command(payload.SerializeAsString())->rebirth);
  metric.set_boolean_value(true);
  EXPECT_TRUE(read_command(payload.SerializeAsString())->rebirth);
  metric.set_name("node control/rebirth");
  EXPECT_FALSE(read_command(payload.SerializeAsString())->rebirth);
}

TEST(SparkplugPayload, CutsTheNameOfWhatIsNoCommand) {
  sparkplug_b::Payload payload;
  payload.add_metrics()->set_name(std::string(1000, 'x'));
  EXPECT_EQ(read_command(payload.SerializeAsString())->first_other, std::string(80, 'x'));
}

TEST(SparkplugPayload, HasNoTimeBefore1970) { EXPECT_EQ(read(death_payload(0, WallTime{-5s})).timestamp(), 0U); }

} // namespace oxherd::daemon::sparkplug_test
