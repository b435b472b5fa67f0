#pragma once

#include <filesystem>

#include "daemon/commission/questions.hpp"

namespace oxherd::daemon::cli {

/// What this machine and the directory of that settings file tell `oxherd init`.
[[nodiscard]] commission::Surroundings surroundings_of(const std::filesystem::path& settings_file);

} // namespace oxherd::daemon::cli
