#include "daemon/cli/arguments.hpp"

#include <gtest/gtest.h>

namespace oxherd::daemon::arguments_test {

using cli::Arguments;
using cli::Option;

const std::vector<Option> options{{"--temperature", "TEMPERATURE", "of the gas", "21C"},
                                  {"--humidity", "PERCENT", "relative humidity", "45%"},
                                  {"--comment", "TEXT", "why", ""},
                                  {"--json", "", "print JSON", ""}};

Arguments sorted(const std::vector<std::string>& words, std::string_view positional = "") {
  const auto out = cli::parse_arguments(options, positional, words);
  EXPECT_TRUE(out) << (out ? "" : out.error());
  return out.value_or(Arguments{});
}

std::string refusal(const std::vector<std::string>& words, std::string_view positional = "") {
  const auto out = cli::parse_arguments(options, positional, words);
  return out ? "accepted" : out.error();
}

TEST(ArgumentsOfACommand, AreTakenWithBlankOrEqualsSign) {
  const auto got = sorted({"--temperature", "21C", "--humidity=45%", "--json"});
  EXPECT_EQ(got.value("--temperature"), "21C");
  EXPECT_EQ(got.value("--humidity"), "45%");
  EXPECT_TRUE(got.given("--json"));
  EXPECT_FALSE(got.given("--comment"));
  EXPECT_EQ(got.value_or("--comment", "none"), "none");
}

TEST(ArgumentsOfACommand, MayBeNegativeNumbers) {
  EXPECT_EQ(sorted({"--temperature", "-5C"}).value("--temperature"), "-5C");
  EXPECT_EQ(sorted({"--temperature=-5C"}).value("--temperature"), "-5C");
  EXPECT_EQ(sorted({"--temperature", "-.5C"}).value("--temperature"), "-.5C");
}

TEST(ArgumentsOfACommand, AreNeverSwallowedByAnOptionWithoutValue) {
  EXPECT_EQ(refusal({"--temperature", "--humidity", "45%"}), "--temperature needs a value such as \"21C\"");
  EXPECT_EQ(refusal({"--temperature", "-x", "45%"}), "--temperature needs a value such as \"21C\"");
  EXPECT_EQ(refusal({"--humidity", "45%", "--temperature"}), "--temperature needs a value such as \"21C\"");
  EXPECT_EQ(refusal({"--temperature=", "21C"}), "--temperature needs a value such as \"21C\"");
  EXPECT_EQ(refusal({"--comment"}), "--comment needs a value: why");
}

TEST(ArgumentsOfACommand, AreNotTakenApartAtBrackets) {
  EXPECT_EQ(sorted({"--comment", "[fan on, door shut]"}).value("--comment"), "[fan on, door shut]");
  EXPECT_EQ(sorted({"--comment", "a=b"}).value("--comment"), "a=b");
}

TEST(ArgumentsOfACommand, SuggestTheNearestOption) {
  EXPECT_EQ(refusal({"--temprature", "21C"}), "there is no option --temprature; did you mean --temperature?");
  EXPECT_EQ(refusal({"--temprature=21C"}), "there is no option --temprature; did you mean --temperature?");
  EXPECT_EQ(refusal({"--jsno"}), "there is no option --jsno; did you mean --json?");
  EXPECT_EQ(refusal({"--verbose"}), "there is no option --verbose; --help lists what there is");
  EXPECT_EQ(refusal({"-x"}), "there is no option -x; --help lists what there is");
}

TEST(ArgumentsOfACommand, AreGivenOnce) {
  EXPECT_EQ(refusal({"--humidity", "45%", "--humidity", "46%"}), "--humidity is given twice");
  EXPECT_EQ(refusal({"--json", "--json"}), "--json is given twice");
}

TEST(ArgumentsOfACommand, RefuseAValueForAFlag) { EXPECT_EQ(refusal({"--json=yes"}), "--json takes no value"); }

TEST(ArgumentsOfACommand, KeepPositionalWordsInOrder) {
  const std::vector<std::string> expected{"a/b", "c/d"};
  EXPECT_EQ(sorted({"a/b", "--json", "c/d"}, "ROOM/ALARM...").positional(), expected);
  EXPECT_EQ(sorted({"--", "a/b", "c/d"}, "ROOM/ALARM...").positional(), expected);
}

TEST(ArgumentsOfACommand, RefuseWordsThatHaveNoPlace) {
  EXPECT_EQ(refusal({"--json", "extra"}), "\"extra\" is one word too many; --help shows the form");
}

} // namespace oxherd::daemon::arguments_test
