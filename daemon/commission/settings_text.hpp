#pragma once

#include <string>

#include "daemon/commission/questions.hpp"

namespace oxherd::daemon::commission {

/// The settings file that these answers make, with comments. Answers must be complete, see completed(); wrong ones make
/// a file with problems, which is how they are judged.
[[nodiscard]] std::string settings_text(const Answers& answers, const Surroundings& around);

/// A TOML basic string.
[[nodiscard]] std::string toml_string(std::string_view text);

} // namespace oxherd::daemon::commission
