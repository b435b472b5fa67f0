#include "daemon/cli/exit_codes.hpp"

#include <algorithm>
#include <regex>
#include <set>

#include <fmt/core.h>

#include "daemon/cli/help.hpp"
#include "tests/daemon/cli/cli_fixture.hpp"

namespace oxherd::daemon::exit_codes_test {

std::string text_of_file(const std::string& name) {
  std::ifstream in{std::filesystem::path{OXHERD_SOURCE_DIR} / name};
  std::ostringstream out;
  out << in.rdbuf();
  return out.str();
}

/// The numbers of the enumeration, read from its declaration: a language without reflection has no other list.
std::set<int> declared_codes() {
  const auto source = text_of_file("daemon/cli/console.hpp");
  const auto from = source.find("enum Exit");
  const auto body = source.substr(from, source.find('}', from) - from);
  std::set<int> out;
  const std::regex number{"= ([0-9]+)"};
  for (std::sregex_iterator it{body.begin(), body.end(), number}, end; it != end; ++it)
    out.insert(std::stoi((*it)[1].str()));
  return out;
}

TEST(ExitCodes, AreListedAsTheyAreDeclared) {
  std::set<int> listed;
  for (const auto code : cli::exit_codes()) EXPECT_TRUE(listed.insert(code).second) << code;
  EXPECT_EQ(listed, declared_codes());
  EXPECT_TRUE(std::ranges::is_sorted(cli::exit_codes()));
}

TEST(ExitCodes, HaveOneMeaningEach) {
  std::set<std::string_view> meanings;
  for (const auto code : cli::exit_codes()) EXPECT_TRUE(meanings.insert(cli::meaning_of(code)).second) << code;
  EXPECT_FALSE(meanings.contains(""));
}

TEST(ExitCodes, AreTheSameInTheHelpAndInTheReadme) {
  const auto readme = text_of_file("README.md");
  std::string table = "| exit code | |\n|---|---|\n";
  std::string lines = "Exit codes:\n";
  for (const auto code : cli::exit_codes()) {
    table += fmt::format("| {} | {} |\n", static_cast<int>(code), cli::meaning_of(code));
    lines += fmt::format("  {}  {}\n", static_cast<int>(code), cli::meaning_of(code));
  }
  EXPECT_NE(readme.find(table + '\n'), std::string::npos) << table;
  EXPECT_TRUE(cli::general_help().ends_with(lines)) << lines;
}

} // namespace oxherd::daemon::exit_codes_test
