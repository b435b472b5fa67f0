#pragma once

#include <filesystem>

#include "daemon/store/sqlite.hpp"

namespace oxherd::daemon::store {

/// Takes over what can still be read of a damaged journal.sqlite: alarm states, calibrations, the lines of the
/// journal. Missing lines are told by one of their own; what cannot be read stays in the damaged file.
void salvage_journal(Database& fresh, const std::filesystem::path& damaged);

} // namespace oxherd::daemon::store
