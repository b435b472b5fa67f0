#pragma once

#include <cstddef>
#include <vector>

#include "config/settings.hpp"

namespace oxherd::daemon {

/// The rooms that an output serves, by index, in the order in which it names them; all of the site when it names none.
/// The first of them answers for it.
[[nodiscard]] std::vector<std::size_t> rooms_served(const config::Settings& settings, const config::Output& output);

} // namespace oxherd::daemon
