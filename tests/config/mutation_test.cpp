#include <cstdlib>
#include <random>

#include <gtest/gtest.h>

#include "config/profile.hpp"
#include "tests/config/sample.hpp"

// Whatever stands in the file, reading it ends with settings or with problems that have a place; it never throws.
namespace oxherd::mutation_test {

constexpr std::string_view pieces[] = {"[",
                                       "]",
                                       "[[",
                                       "\"",
                                       "'",
                                       "\"\"\"",
                                       "=",
                                       ".",
                                       ",",
                                       "{",
                                       "}",
                                       "#",
                                       "\n",
                                       "\0",
                                       "\xff",
                                       "-1",
                                       "nan",
                                       "inf",
                                       "1e999",
                                       "true",
                                       "2026-05-04T09:30:00Z",
                                       "07:32:00",
                                       "°",
                                       "\"19.5 kPa\"",
                                       "\"99999999999999999999 V\"",
                                       "[1, [2, {a = 3}]]",
                                       "2026-01-15",
                                       "\"never\"",
                                       "first_used = 2026-13-45",
                                       "signal_in_air = [\"8 mV\", 5]",
                                       "room",
                                       "sensor"};

std::string mutated(std::string text, std::mt19937& random) {
  const auto below = [&random](std::size_t n) { return std::uniform_int_distribution<std::size_t>{0, n - 1}(random); };
  for (auto changes = 1 + below(4); changes > 0 && !text.empty(); --changes) {
    const auto at = below(text.size());
    const auto length = std::min(below(30) + 1, text.size() - at);
    switch (below(5)) {
    case 0: text.erase(at, length); break;
    case 1: text.insert(at, pieces[below(std::size(pieces))]); break;
    case 2: text.replace(at, length, pieces[below(std::size(pieces))]); break;
    case 3: text.insert(below(text.size()), text.substr(at, length * 4)); break;
    default: text[at] = static_cast<char>(below(256)); break;
    }
  }
  return text;
}

unsigned seed_of_the_run() {
  const char* given = std::getenv("OXHERD_SEED");
  return given != nullptr ? static_cast<unsigned>(std::strtoul(given, nullptr, 10)) : std::random_device{}();
}

TEST(AnyText, EndsWithSettingsOrWithProblemsThatHaveAPlace) {
  const unsigned seed = seed_of_the_run();
  SCOPED_TRACE("OXHERD_SEED=" + std::to_string(seed));
  std::mt19937 random{seed};
  const auto looked_after =
      config_test::with("zero = \"0.4 mV\" }", "zero = \"0.4 mV\", check_every = \"14 d\", permitted_age = \"never\", "
                                               "first_used = 2026-01-15, signal_in_air = [\"8 mV\", \"15 mV\"] }");
  ASSERT_TRUE(config::parse(looked_after, "site.toml", config_test::shipped()));
  int refused = 0;
  for (int run = 0; run < 3000; ++run) {
    const auto text = mutated(run % 2 == 0 ? std::string{config_test::sound} : looked_after, random);
    const auto loaded = config::parse(text, "site.toml", config_test::shipped());
    if (loaded) continue;
    ++refused;
    ASSERT_FALSE(loaded.error().empty()) << text;
    for (const auto& problem : loaded.error()) {
      const bool placed = problem.line >= 1 && problem.column >= 1;
      ASSERT_TRUE(placed && !problem.message.empty()) << to_string(problem) << "\n" << text;
    }
  }
  EXPECT_GT(refused, 1000); // the changes do reach the checks
}

TEST(AnyProfile, EndsWithAProfileOrWithProblems) {
  const unsigned seed = seed_of_the_run();
  SCOPED_TRACE("OXHERD_SEED=" + std::to_string(seed));
  std::mt19937 random{seed};
  constexpr std::string_view sound_profile = R"(description = "x"
[point.oxygen]
table = "input"
address = 0
type = "float32"
order = "ABCD"
unit = "mV"
scale = 1.5
bad_values = [1, 2]
lowest = "-2 mV"
[[status]]
table = "input"
address = 2
mask = 1
category = "failure"
text = "open"
[read]
gap_max = 3
)";
  for (int run = 0; run < 2000; ++run) {
    const auto text = mutated(std::string{sound_profile}, random);
    config::Problems problems{"p.toml"};
    const auto profile = config::parse_profile("p", text, problems);
    ASSERT_EQ(profile.has_value(), !problems.has_errors()) << text;
  }
}

} // namespace oxherd::mutation_test
