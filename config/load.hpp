#pragma once

#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

#include <tl/expected.hpp>

#include "config/settings.hpp"

namespace oxherd::config {

enum class Severity { error, warning };

/// One thing wrong (or doubtful) in the file, at the place where a person must look.
struct Problem {
  Severity severity = Severity::error;
  std::string file;
  int line = 0; ///< 1-based; 0 when the file itself could not be read
  int column = 0;
  std::string key;     ///< dotted, "room.cryo-annexe.alarm.low-oxygen.below"
  std::string message; ///< what was found and what is accepted
};
/// "FILE:LINE:COLUMN: KEY: MESSAGE", warnings with "warning: " before the message.
[[nodiscard]] std::string to_string(const Problem& problem);

struct Loaded {
  Settings settings;
  std::vector<Problem> warnings;
};

/// What a file is read for. To rehearse its alarm rules over recorded data, a room needs no sensors: those of the data
/// stand in for them. Everything else is checked alike.
enum class Purpose { run, rehearse };

/// Reads and checks the whole file. Every problem found is reported, sorted by line, not only the first.
/// Profiles are looked for beside the file in `profiles/`, then in each of `profile_dirs`.
[[nodiscard]] tl::expected<Loaded, std::vector<Problem>> load(const std::filesystem::path& file,
                                                              const std::vector<std::filesystem::path>& profile_dirs,
                                                              Purpose purpose = Purpose::run);

/// The same from text already in memory (tests, fuzzing); `name` stands in for the file in messages.
[[nodiscard]] tl::expected<Loaded, std::vector<Problem>> parse(std::string_view text, std::string_view name,
                                                               const std::vector<std::filesystem::path>& profile_dirs,
                                                               Purpose purpose = Purpose::run);

} // namespace oxherd::config
