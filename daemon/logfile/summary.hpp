#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "daemon/logfile/ambient_follower.hpp"
#include "daemon/logfile/cause.hpp"
#include "daemon/logfile/dialect.hpp"

namespace oxherd::daemon::logfile {

/// How often something was seen, and the first line of it.
struct Tally {
  std::uint64_t rows = 0;
  std::uint64_t first_line = 0;
  void add(std::uint64_t line) {
    if (rows++ == 0) first_line = line;
  }
};

/// The least or greatest value and its line.
struct Extreme {
  double value = 0.0;
  std::uint64_t line = 0;
};

/// What was done to one file.
struct Summary {
  std::uint64_t rows = 0;        ///< of data
  std::uint64_t good = 0;        ///< corrected, nothing to remark
  std::uint64_t uncertain = 0;   ///< corrected, with a remark
  std::uint64_t bad = 0;         ///< kept and marked: no oxygen follows from them
  std::uint64_t other_lines = 0; ///< before the table, comments, empty: kept as they are
  std::array<Tally, cause_count> causes{};
  std::string no_reading_example;         ///< the words of the equations for the first row they refused
  Tally not_increasing;                   ///< rows whose time is not later than that of the row before
  bool taken_as_utc = false;              ///< times stated no offset, and neither did the recipe
  std::optional<Extreme> least, greatest; ///< dry fraction
  double u_greatest = 0.0;

  Dialect dialect;
  int header_line = 0; ///< 0: none
  std::string input, output, recipe;
  std::string input_sha256, output_sha256;
  std::uint64_t bytes_in = 0, bytes_out = 0;
  struct SecondFile {
    std::string name, sha256;
    std::uint64_t bytes = 0;
    AmbientFollower::Counts counts;
  };
  std::optional<SecondFile> ambient;
  std::vector<std::string> warnings; ///< of the recipe
  double seconds = 0.0;
};

/// For a person: rows, marks with their first lines, times that do not increase, extremes.
[[nodiscard]] std::string summary_text(const Summary& summary);
/// The same as one JSON object on one line.
[[nodiscard]] std::string summary_json(const Summary& summary);

} // namespace oxherd::daemon::logfile
