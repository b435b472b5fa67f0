#pragma once

#include <filesystem>

#include "daemon/store/sqlite.hpp"

namespace oxherd::daemon::store {

/// Takes over what can still be read of a damaged journal.sqlite: alarm states, calibrations, the journal or at least
/// its last sequence number. What cannot be read is left where it is and named in the log.
void salvage_journal(Database &fresh, const std::filesystem::path &damaged);

} // namespace oxherd::daemon::store
