#pragma once

#include <string>
#include <vector>

#include "tests/simulation/drill/drill.hpp"

namespace oxherd::drill {

/// What is left of a drawn script: which of its happenings, each as often halved in length, and up to when.
struct Cut {
  struct Kept {
    std::size_t number = 0;
    int halved = 0;
  };
  std::vector<Kept> kept;
  Monotonic until{0};
};
[[nodiscard]] Cut whole(const Script& script);
[[nodiscard]] Script cut(const Script& script, const Cut& to);
/// As the command line takes it: "3,17/2", 17 halved twice.
[[nodiscard]] std::string only_text(const Cut& cut);
[[nodiscard]] std::vector<Cut::Kept> read_only(const std::string& text);

/// Leaves out and shortens what a failure does not need, as long as the run still fails at its first complaint.
/// @param runs_at_most  so many are tried
[[nodiscard]] Cut shrunk(const Script& script, int runs_at_most);

} // namespace oxherd::drill
