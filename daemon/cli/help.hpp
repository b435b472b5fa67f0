#pragma once

#include <string>

#include "daemon/cli/command.hpp"

namespace oxherd::daemon::cli {

/// `oxherd --help`: what it is, the caution, the commands, examples, exit codes.
[[nodiscard]] std::string general_help();

/// `oxherd COMMAND --help`: form, purpose, options, examples and the caution.
[[nodiscard]] std::string help_of(const Command& command);

} // namespace oxherd::daemon::cli
