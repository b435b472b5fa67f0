#pragma once

#include <optional>
#include <string>

#include "daemon/http/api.hpp"

// History as tables for other programs.
namespace oxherd::daemon::http {

/// By the parameter `format`, or else the header `accept`. Empty: it is none of them.
[[nodiscard]] std::optional<Form> form_of(const HttpRequest& request);

/// The records of a history, one a line: CSV (RFC 4180, with a head) or newline-delimited JSON. An answer without
/// records stays JSON. `Oxherd-Truncated: true` says that there are more.
[[nodiscard]] HttpResponse exported(Form form, const std::string& result_json);

/// The document in {"html": "..."}: it stands alone, with styles of its own and without scripts.
[[nodiscard]] HttpResponse page_of(const std::string& result_json);

} // namespace oxherd::daemon::http
