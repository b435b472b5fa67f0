#pragma once

#include <string>

#include <tl/expected.hpp>

#include "config/settings.hpp"
#include "daemon/mqtt/connection.hpp"

namespace oxherd::daemon {

/// As which client the daemon's first connection is known: what the file says, else oxherd-<site>.
[[nodiscard]] std::string client_id_of(const config::Mqtt& settings, const std::string& site);

/// What a connection to the broker of the settings needs; reads the password. Else a sentence that says why not.
[[nodiscard]] tl::expected<ConnectionSettings, std::string> login_of(const config::Mqtt& settings,
                                                                     std::string client_id, Will will);

/// Why there is no connection, in words: what the broker said, or what a look at network and TLS finds. That look takes
/// 1.5 s at most, apart from the resolver.
[[nodiscard]] std::string why_refused(const ConnectionEvent& refused, const ConnectionSettings& with);

} // namespace oxherd::daemon
