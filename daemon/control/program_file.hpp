#pragma once

#include <string>
#include <string_view>
#include <vector>

#include <tl/expected.hpp>

#include "control/programs/program.hpp"
#include "daemon/reading_basis.hpp"
#include "daemon/room/poll.hpp"

namespace oxherd::daemon {

/// What is kept of the program of one loop.
struct KeptProgram {
  std::string room, loop;
  control::ProgramState state;
};

/// As the file `programs.json` has it: when it was written, and of each program what a person did to it. Times on the
/// monotonic clock are written as what is left or done of them.
[[nodiscard]] std::string programs_text(const std::vector<KeptProgram>& programs, Monotonic now, WallTime wall);

struct ReadPrograms {
  std::vector<KeptProgram> programs;
  Monotonic outage{0}; ///< since it was written; never negative
};
/// @param now, wall  of the start: what was kept goes on from there
[[nodiscard]] tl::expected<ReadPrograms, std::string> read_programs(std::string_view text, Monotonic now,
                                                                    WallTime wall);

} // namespace oxherd::daemon
