#pragma once

#include <span>
#include <string_view>

#include "daemon/cli/console.hpp"

namespace oxherd::daemon::cli {

/// Every exit code, in rising order: the one list for `--help`, the manual page and scripts.
[[nodiscard]] std::span<const Exit> exit_codes();

/// What a code tells whoever started the command: "no daemon answers".
[[nodiscard]] std::string_view meaning_of(Exit code);

} // namespace oxherd::daemon::cli
