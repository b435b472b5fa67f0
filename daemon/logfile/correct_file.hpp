#pragma once

#include <cstdint>
#include <functional>
#include <optional>
#include <string>

#include <tl/expected.hpp>

#include "daemon/logfile/failure.hpp"
#include "daemon/logfile/recipe.hpp"
#include "daemon/logfile/summary.hpp"
#include "daemon/records.hpp"

namespace oxherd::daemon::logfile {

/// How far it is; `total` is known for a regular file.
struct Progress {
  std::uint64_t bytes = 0;
  std::optional<std::uint64_t> total;
};

/// What is to be done.
struct Correction {
  std::string input;  ///< "-": standard input
  std::string output; ///< "-": standard output
  bool force = false; ///< existing files may be replaced
  /// The record of what was done, beside the output; empty: none.
  std::string record;
  WallTime now;        ///< for the record
  std::string version; ///< likewise
  /// Told now and then; false stops the work, and nothing is left behind.
  std::function<bool(const Progress&)> progress;
};

/// Corrects a file of any size: memory does not grow with it. The output appears under its name only when it is
/// complete; every row of the input is in it, byte for byte, with the added columns behind.
/// @return Failure when nothing could be done; rows that cannot be corrected are no failure but are marked
[[nodiscard]] tl::expected<Summary, Failure> correct_file(const Recipe& recipe, const Correction& correction);

} // namespace oxherd::daemon::logfile
