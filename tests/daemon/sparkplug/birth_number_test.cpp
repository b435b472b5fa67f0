#include "daemon/sparkplug/birth_number.hpp"

#include <gtest/gtest.h>

#include "tests/daemon/mqtt/broker.hpp"

namespace oxherd::daemon::sparkplug_test {

using sparkplug::BirthNumber;

TEST(SparkplugBirthNumber, BeginsWith0GoesOnOverStartsAndAfter255With0) {
  const mqtt_test::TemporaryDirectory directory;
  std::string trouble;
  const auto next = [&](BirthNumber& number) {
    const int given = number.next(trouble);
    EXPECT_EQ(trouble, "");
    return given;
  };
  BirthNumber first{directory.path() / "births"}, second = first;
  EXPECT_EQ(next(first), 0);
  EXPECT_EQ(next(first), 1);
  EXPECT_EQ(next(second), 2);
  BirthNumber late{directory.write("births", "254\n")};
  EXPECT_EQ(next(late), 255);
  EXPECT_EQ(next(late), 0);
}

TEST(SparkplugBirthNumber, BeginsAnewWhenTheFileHoldsNoNumber) {
  const mqtt_test::TemporaryDirectory directory;
  std::string trouble;
  for (const auto* text : {"", "x", "-4", "256", "99999999999999999999"}) {
    BirthNumber number{directory.write("births", text)};
    EXPECT_EQ(number.next(trouble), 0) << text;
  }
  BirthNumber number{directory.write("births", "41\n")};
  EXPECT_EQ(number.next(trouble), 42);
}

TEST(SparkplugBirthNumber, GoesOnInMemoryAndSaysWhyItIsNotKept) {
  const mqtt_test::TemporaryDirectory directory;
  BirthNumber number{directory.path() / "gone" / "births"};
  std::string trouble;
  EXPECT_EQ(number.next(trouble), 0);
  EXPECT_NE(trouble.find("gone"), std::string::npos) << trouble;
  EXPECT_EQ(number.next(trouble), 1);
}

} // namespace oxherd::daemon::sparkplug_test
