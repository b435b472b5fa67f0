#pragma once

#include <string>

namespace oxherd::daemon::cli {

/// The person at the keyboard, also behind a change of user; empty when the system does not know.
[[nodiscard]] std::string login_name();

} // namespace oxherd::daemon::cli
