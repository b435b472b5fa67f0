#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "config/profile.hpp"
#include "daemon/commission/guess.hpp"

namespace oxherd::daemon::commission {

/// What the heading of a profile says of where it comes from.
struct ProfileOrigin {
  std::string bus; ///< as it was typed
  int unit = 1;
  std::string day; ///< "2026-11-26"
};

/// The findings that a profile can have: one for each measurand, the most plausible.
[[nodiscard]] std::vector<Finding> one_for_each(const std::vector<Finding>& findings);

/// A register map in the form of config/profiles, with what was guessed, how surely, and what else it might be, as
/// comments. Needs at least one finding.
[[nodiscard]] std::string profile_text(const std::vector<Finding>& findings, const ProfileOrigin& origin);

/// The first profile that reads exactly the best guesses for everything it describes, so that none need be written.
[[nodiscard]] std::optional<std::string> profile_that_fits(config::ProfileShelf& shelf,
                                                           const std::vector<Finding>& findings);

/// "int16 x 0.1", "float32, high word first".
[[nodiscard]] std::string reading_in_words(const Guess& guess);
/// "21.1 °C -> temperature".
[[nodiscard]] std::string value_in_words(const Guess& guess);
/// "0x41A7 0x3333".
[[nodiscard]] std::string words_in_hex(const std::vector<std::uint16_t>& words);
/// "input 3" or "input 3-4".
[[nodiscard]] std::string place_in_words(const Guess& guess);

} // namespace oxherd::daemon::commission
