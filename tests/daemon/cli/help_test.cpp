#include "daemon/cli/help.hpp"

#include <algorithm>
#include <cctype>
#include <iomanip>
#include <set>

#include "alarms/texts.hpp"
#include "daemon/cli/text.hpp"
#include "daemon/version.hpp"
#include "tests/daemon/cli/cli_fixture.hpp"

namespace oxherd::daemon::help_test {

using cli_test::run_words;

/// Text without its line breaks, so that wrapping does not matter.
std::string unwrapped(const std::string& text) {
  std::istringstream in{text};
  std::string out;
  for (std::string word; in >> word;) out += (out.empty() ? "" : " ") + word;
  return out;
}

/// The words of a text in small letters, without what surrounds them.
std::vector<std::string> plain_words(const std::string& text) {
  std::vector<std::string> out(1);
  for (const char c : text) {
    const int letter = std::tolower(static_cast<unsigned char>(c));
    if (std::isalpha(letter) != 0)
      out.back() += static_cast<char>(letter);
    else if (!out.back().empty())
      out.emplace_back();
  }
  return out;
}

std::string without(std::string text, std::string_view part) {
  for (auto at = text.find(part); at != std::string::npos; at = text.find(part)) text.erase(at, part.size());
  return text;
}

TEST(HelpOfEveryCommand, HasAnExampleOfItself) {
  for (const auto* command : cli::commands()) {
    const auto start = "oxherd " + std::string{command->name} + ' ';
    EXPECT_TRUE(command->examples.starts_with(start) ||
                command->examples.starts_with("oxherd " + std::string{command->name} + '\n'))
        << command->name;
    EXPECT_NE(cli::help_of(*command).find("Examples:\n  oxherd " + std::string{command->name}), std::string::npos);
  }
}

TEST(HelpOfEveryCommand, MentionsTheCaution) {
  for (const auto* command : cli::commands())
    EXPECT_NE(unwrapped(cli::help_of(*command)).find(alarms::caution_short()), std::string::npos) << command->name;
}

TEST(HelpOfEveryCommand, IsPrintedWhereverHelpIsAsked) {
  for (const auto* command : cli::commands())
    for (const std::string word : {"--help", "-h"}) {
      const auto got = run_words({std::string{command->name}, "--json", word});
      EXPECT_EQ(got.code, cli::fine);
      EXPECT_EQ(got.out, cli::help_of(*command));
      EXPECT_EQ(got.err, "");
    }
}

TEST(HelpOfEveryCommand, DescribesEachOptionOnceWithAValueToCopy) {
  for (const auto* command : cli::commands()) {
    std::set<std::string> seen;
    for (const auto& option : command->options()) {
      SCOPED_TRACE(std::string{command->name} + ' ' + option.name);
      EXPECT_TRUE(seen.insert(option.name).second);
      EXPECT_TRUE(option.name.starts_with("--") || (option.name[0] == '-' && option.name.size() == 2));
      EXPECT_FALSE(option.help.empty());
      if (!option.listed) continue;
      EXPECT_NE(cli::help_of(*command).find("  " + option.name), std::string::npos);
    }
  }
}

TEST(EveryCommandThatPrintsData, HasJson) {
  const std::set<std::string_view> without{"run", "collect",                // log lines
                                           "completion", "manual", "init"}; // a script, a page, settings
  for (const auto* command : cli::commands()) {
    const auto options = command->options();
    const bool has = std::ranges::find(options, "--json", &cli::Option::name) != options.end();
    EXPECT_EQ(has, !without.contains(command->name)) << command->name;
  }
}

TEST(HelpOfEveryCommand, NeverCallsAnythingSafe) {
  for (const auto* command : cli::commands()) {
    const auto rest = without(unwrapped(cli::help_of(*command)), alarms::caution_short());
    EXPECT_EQ(std::ranges::count(plain_words(rest), "safe"), 0) << command->name;
  }
  const auto general = unwrapped(cli::general_help());
  EXPECT_EQ(std::ranges::count(plain_words(without(general, alarms::caution_long())), "safe"), 0);
  EXPECT_EQ(std::ranges::count(plain_words(general), "safe"), 1); // the caution's own
}

TEST(ExamplesOfEveryCommand, AreAcceptedByItsOptions) {
  for (const auto* command : cli::commands()) {
    std::istringstream lines{std::string{command->examples}};
    for (std::string line; std::getline(lines, line);) {
      SCOPED_TRACE(line);
      std::vector<std::string> words;
      std::istringstream typed{line};
      for (std::string word; typed >> std::quoted(word);) words.push_back(word);
      ASSERT_GE(words.size(), 2U);
      const auto parsed =
          cli::parse_arguments(command->options(), command->positional, {words.begin() + 2, words.end()});
      EXPECT_TRUE(parsed) << parsed.error();
    }
  }
}

TEST(GeneralHelp, ListsEveryCommandTheExitCodesAndTheLongCaution) {
  const auto got = run_words({"--help"});
  EXPECT_EQ(got.code, cli::fine);
  for (const auto* command : cli::commands())
    EXPECT_NE(got.out.find(std::string{command->line}), std::string::npos) << command->name;
  EXPECT_NE(unwrapped(got.out).find(alarms::caution_long()), std::string::npos);
  for (const std::string_view code :
       {"0  it went well", "2  the command line", "3  no daemon", "4  the daemon refused"})
    EXPECT_NE(got.out.find(code), std::string::npos) << code;
}

TEST(ACommandLine, WithoutACommandIsAUsageError) {
  const auto got = run_words({});
  EXPECT_EQ(got.code, cli::usage);
  EXPECT_EQ(got.out, "");
  EXPECT_EQ(got.err, cli::general_help());
}

TEST(ACommandLine, WithAMistypedCommandGetsTheNearest) {
  const auto got = run_words({"statsu"});
  EXPECT_EQ(got.code, cli::usage);
  EXPECT_EQ(got.err, "oxherd: there is no command statsu; did you mean \"status\"?\n");
  EXPECT_EQ(run_words({"frobnicate"}).err,
            "oxherd: there is no command frobnicate; oxherd --help lists what there is\n");
  EXPECT_EQ(run_words({"--verbose"}).err, "oxherd: there is no option --verbose; oxherd --help lists what there is\n");
}

TEST(ACommandLine, PrintsTheVersion) {
  const auto got = run_words({"--version"});
  EXPECT_EQ(got.code, cli::fine);
  EXPECT_EQ(got.out, std::string{"oxherd "} + version + '\n');
  EXPECT_EQ(std::ranges::count(got.out, '.'), 2) << got.out;
}

TEST(ACommandLine, RefusesAnUnknownLogLevel) {
  const auto got = run_words({"run", "--log-level", "infos"});
  EXPECT_EQ(got.code, cli::usage);
  EXPECT_EQ(got.err, "oxherd run: --log-level: there is no level \"infos\"; did you mean \"info\"?\n");
}

TEST(Stress, AddsColourOnlyWhereItShowsAndNeverInPlaceOfWords) {
  std::ostringstream sink;
  EXPECT_EQ(cli::stressed({sink, sink, false}, cli::Stress::alarm, "ALARM"), "ALARM");
  EXPECT_EQ(cli::stressed({sink, sink, true}, cli::Stress::alarm, "ALARM"), "\x1b[1;31mALARM\x1b[0m");
  EXPECT_EQ(cli::stressed({sink, sink, true}, cli::Stress::none, "fine"), "fine");
}

} // namespace oxherd::daemon::help_test
