#pragma once

#include <string>

#include <tl/expected.hpp>

#include "daemon/cli/arguments.hpp"
#include "daemon/log.hpp"

namespace oxherd::daemon::cli {

/// --log-level, of commands that run for long.
[[nodiscard]] Option log_level_option();
/// What was given, else "info"; the error is a sentence for the person.
[[nodiscard]] tl::expected<log::Level, std::string> log_level_of(const Arguments& arguments);

} // namespace oxherd::daemon::cli
