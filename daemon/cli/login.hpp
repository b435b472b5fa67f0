#pragma once

#include <string>
#include <string_view>

namespace oxherd::daemon::cli {

/// The person at the keyboard, also behind a change of user; empty when the system does not know.
[[nodiscard]] std::string login_name();

/// Whether somebody is named: by `--by` or, without it, by the login.
[[nodiscard]] bool is_somebody(std::string_view author);

} // namespace oxherd::daemon::cli
