#pragma once

#include <string>

#include "daemon/http/message.hpp"

namespace oxherd::daemon::http {

/// OpenMetrics 1.0, or the older text form (version 0.0.4) for whoever does not ask for it.
enum class Exposition { open_metrics, text };
/// By the header `accept`.
[[nodiscard]] Exposition exposition_for(const HttpRequest& request);

/// The daemon's answer to "status" as metrics: what the rooms are like and how the daemon does. A value that is not
/// known has no line; a room that is not monitored says so in a metric of its own.
[[nodiscard]] HttpResponse metrics_answer(Exposition form, const std::string& status_line);

} // namespace oxherd::daemon::http
