#pragma once

#include <string>

#include "daemon/collect/collector.hpp"

// Whether what comes is kept. Pure.
namespace oxherd::daemon::collect {

/// Why what the sites tell does not reach the database now, in words that anybody may read: the log and the page say
/// more. Empty: it does. Quiet sites are no trouble, since the writer asks the database also when nothing comes.
[[nodiscard]] std::string why_unwell(const CollectHealth& health);

/// The collecting in figures, as a status answer has it.
[[nodiscard]] std::string collect_json(const CollectHealth& health);

} // namespace oxherd::daemon::collect
