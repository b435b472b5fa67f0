#pragma once

#include <memory>
#include <vector>

#include "config/settings.hpp"
#include "daemon/bus/bus_worker.hpp"

namespace oxherd::daemon {

using Workers = std::vector<std::unique_ptr<BusWorker>>;

/// One worker for each bus, polling every sensor that names it.
[[nodiscard]] Workers start_workers(const config::Settings& settings, const BusWorker::Callbacks& callbacks);

} // namespace oxherd::daemon
