#pragma once

#include <span>
#include <string>
#include <vector>

#include "daemon/cli/command.hpp"

namespace oxherd::daemon::cli {

/// Every command, in the order of the help.
[[nodiscard]] std::span<const Command* const> commands();

/// Runs one command line without the program's name: finds the command, sorts out its options, runs it. Never throws
/// for what a person can type; returns an Exit.
[[nodiscard]] int run_command_line(const std::vector<std::string>& words, Console& console);

} // namespace oxherd::daemon::cli
