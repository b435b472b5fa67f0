#include "daemon/commission/profile_text.hpp"

#include <algorithm>
#include <cmath>

#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include "drivers/decode.hpp"
#include "tests/daemon/commission/guess_fixture.hpp"

namespace oxherd::daemon::commission_test {

using commission::guess_values;
using commission::profile_text;

const commission::ProfileOrigin origin{"tcp://192.0.2.10:502", 21, "2026-11-26"};

std::optional<config::Profile> parsed(const std::string& text) {
  config::Problems problems{"probe.toml"};
  auto profile = config::parse_profile("probe", text, problems);
  for (const auto& problem : problems.sorted()) ADD_FAILURE() << config::to_string(problem) << '\n' << text;
  return profile;
}

TEST(AWrittenProfile, SaysThatItIsAGuessAndFromWhere) {
  const auto findings = guess_values(still({211, 412, 9720}), {});
  const auto text = profile_text(findings, origin);
  for (const std::string_view part :
       {"Guessed on 2026-11-26", "unit 21 of tcp://192.0.2.10:502", "confirm each in the device's own manual",
        "0x00D3 read as int16 x 0.1 was 21.1 °C -> temperature", "[point.pressure]\ntable = \"input\"\naddress = 2\n"})
    EXPECT_NE(text.find(part), std::string::npos) << part << '\n' << text;
}

TEST(AWrittenProfile, ReadsBackAsTheGuessesItWasMadeOf) {
  EXPECT_TRUE(rc::check("whatever is guessed of any registers", [] {
    const auto words = *rc::gen::container<Words>(rc::gen::inRange<std::uint16_t>(0, 20000));
    const auto findings = commission::one_for_each(guess_values(still(words), {}));
    RC_PRE(!findings.empty());
    const auto profile = parsed(profile_text(findings, origin));
    RC_ASSERT(profile.has_value());
    RC_ASSERT(profile->points.size() == findings.size());
    for (const auto& finding : findings) {
      const auto point = std::ranges::find_if(
          profile->points, [&](const auto& one) { return one.measured.measurand == finding.best.kind->measurand; });
      RC_ASSERT(point != profile->points.end());
      const auto value = drivers::decode(point->point, finding.best.words);
      RC_ASSERT(value.fault == drivers::ValueFault::none);
      RC_ASSERT(std::abs(value.si - commission::si_of(finding.best)) <= 1e-9 * std::abs(value.si));
    }
  }));
}

TEST(AWrittenProfile, HasOnePointForEachMeasurandAndNamesTheOthers) {
  std::vector<Words> rounds; // two cells in air, in hundredths of a percent
  for (const int step : {0, 1, 0, 2}) {
    const auto first = static_cast<std::uint16_t>(2090 + step);
    rounds.push_back({first, 0, static_cast<std::uint16_t>(2085 + step)});
  }
  const auto findings = guess_values(input_registers(rounds), {});
  ASSERT_EQ(findings.size(), 2U);
  const auto text = profile_text(findings, origin);
  const auto profile = parsed(text);
  ASSERT_TRUE(profile);
  EXPECT_EQ(profile->points.size(), 1U);
  EXPECT_NE(text.find("Left out"), std::string::npos);
}

TEST(TheProfileThatFits, IsTheOneThatReadsExactlyTheGuesses) {
  config::ProfileShelf shelf{{std::filesystem::path{OXHERD_SOURCE_DIR} / "config/profiles"}};
  EXPECT_EQ(commission::profile_that_fits(shelf, guess_values(still({211, 412, 9720}), {})), "ambient-int16");
  Words floats;
  for (const double value : {21.1, 41.2, 972.0}) append(floats, words_of(value, ByteOrder::abcd));
  EXPECT_EQ(commission::profile_that_fits(shelf, guess_values(still(floats), {})), "ambient-float32");
  Words swapped_floats;
  for (const double value : {21.1, 41.2, 972.0}) append(swapped_floats, words_of(value, ByteOrder::cdab));
  EXPECT_EQ(commission::profile_that_fits(shelf, guess_values(still(swapped_floats), {})), std::nullopt);
  EXPECT_EQ(commission::profile_that_fits(shelf, {}), std::nullopt);
}

} // namespace oxherd::daemon::commission_test
