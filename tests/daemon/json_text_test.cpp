#include "daemon/json_text.hpp"

#include <cmath>
#include <cstdlib>
#include <limits>
#include <random>

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

namespace oxherd::daemon::json_text_test {

TEST(JsonString, EscapesWhatRfc8259Section7Demands) {
  EXPECT_EQ(json_string("pear store \"2\" \\ north"), R"("pear store \"2\" \\ north")");
  EXPECT_EQ(json_string("line\nnext\ttab\r"), R"("line\nnext\ttab\r")");
  EXPECT_EQ(json_string(std::string_view{"\0\x01\x1f", 3}), R"("\u0000\u0001\u001f")");
  EXPECT_EQ(json_string("21 °C, 20.9 ± 0.2 %, 梨"), "\"21 °C, 20.9 ± 0.2 %, 梨\"");
}

// Unicode 15, section 3.9, table 3-8: U+FFFD for each maximal subpart of an ill-formed sequence.
TEST(JsonString, ReplacesEachBrokenUtf8SequenceByOneReplacementCharacter) {
  const std::string r = "\xEF\xBF\xBD";
  EXPECT_EQ(json_string("\x61\xF1\x80\x80\xE1\x80\xC2\x62\x80\x63\x80\xBF\x64"),
            "\"a" + r + r + r + "b" + r + "c" + r + r + "d\"");
  EXPECT_EQ(json_string("\xC0\xAF"), "\"" + r + r + "\"");                 // overlong
  EXPECT_EQ(json_string("\xED\xA0\x80"), "\"" + r + r + r + "\"");         // a surrogate
  EXPECT_EQ(json_string("\xF4\x91\x92\x93"), "\"" + r + r + r + r + "\""); // above U+10FFFF
  EXPECT_EQ(json_string("caf\xE9"), "\"caf" + r + "\"");                   // Latin-1
  EXPECT_EQ(json_string("\xE2\x82"), "\"" + r + "\"");                     // cut short
}

TEST(JsonString, IsReadableJsonForAnyBytes) {
  const char* given = std::getenv("OXHERD_SEED");
  const auto seed = given == nullptr ? std::random_device{}() : static_cast<unsigned>(std::stoul(given));
  SCOPED_TRACE("OXHERD_SEED=" + std::to_string(seed));
  std::mt19937 random{seed};
  std::uniform_int_distribution<int> byte{0, 255}, length{0, 12};
  for (int run = 0; run < 5000; ++run) {
    std::string bytes;
    for (int left = length(random); left > 0; --left) bytes += static_cast<char>(byte(random));
    const auto written = json_string(bytes);
    ASSERT_TRUE(nlohmann::json::accept(written)) << testing::PrintToString(bytes);
  }
}

TEST(JsonNumber, IsTheShortestThatReadsBackAndNeverNanNorInfinite) {
  EXPECT_EQ(json_number(0.20946), "0.20946");
  EXPECT_EQ(json_number(99800.0), "99800");
  EXPECT_EQ(json_number(-0.5), "-0.5");
  EXPECT_EQ(json_number(1e-9), "1e-09");
  EXPECT_EQ(json_number(std::nan("")), "null");
  EXPECT_EQ(json_number(std::numeric_limits<double>::infinity()), "null");
  EXPECT_EQ(json_number(-std::numeric_limits<double>::infinity()), "null");
  for (const double value : {0.1 + 0.2, 1.0 / 3.0, 5e-324, 1.7976931348623157e308, 20.946e-2}) {
    const auto written = json_number(value);
    EXPECT_EQ(nlohmann::json::parse(written).get<double>(), value) << written;
    EXPECT_EQ(written.find('E'), std::string::npos) << written;
  }
}

TEST(JsonObjectWriter, KeepsTheOrderAndWritesMissingValuesAsNull) {
  const auto object = JsonObject{}
                          .text("room", "bay-3")
                          .number("value", std::nullopt)
                          .number("limit", 0.005)
                          .integer("sequence", 42)
                          .flag("present", false)
                          .flag("relay", std::nullopt)
                          .json("reasons", json_array({json_string("a"), "1"}))
                          .text("odd \"key\"", "");
  EXPECT_EQ(object.str(), R"({"room":"bay-3","value":null,"limit":0.005,"sequence":42,"present":false,"relay":null,)"
                          R"("reasons":["a",1],"odd \"key\"":""})");
  EXPECT_EQ(JsonObject{}.str(), "{}");
  EXPECT_EQ(json_array({}), "[]");
}

} // namespace oxherd::daemon::json_text_test
