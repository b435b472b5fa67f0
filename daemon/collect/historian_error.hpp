#pragma once

#include <exception>

#include <pqxx/except.hxx>

#include "daemon/collect/historian.hpp"

namespace oxherd::daemon::collect {

/// What was thrown by the library, as a value. `what` is one line.
[[nodiscard]] HistorianError historian_error(const std::exception& thrown);

} // namespace oxherd::daemon::collect
