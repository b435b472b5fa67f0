#pragma once

#include <string>

#include "daemon/rehearse/rehearsal.hpp"

namespace oxherd::daemon::cli {

/// What was rehearsed, over which data, and what a person must know of it.
[[nodiscard]] std::string rehearsal_head_text(const rehearse::Rehearsed& done);
/// The journal lines that each file's rules would have made.
[[nodiscard]] std::string rehearsal_journal_text(const rehearse::Rehearsed& done);
/// Each alarm's figures; with two files side by side, then what differs.
[[nodiscard]] std::string rehearsal_summary_text(const rehearse::Rehearsed& done);

} // namespace oxherd::daemon::cli
