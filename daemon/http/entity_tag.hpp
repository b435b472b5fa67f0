#pragma once

#include "daemon/http/message.hpp"

namespace oxherd::daemon::http {

/// Adds an ETag (RFC 9110, 8.8.3) of the body; 304 without a body when the asker has the same one already.
[[nodiscard]] HttpResponse with_entity_tag(const HttpRequest& request, HttpResponse response);

} // namespace oxherd::daemon::http
