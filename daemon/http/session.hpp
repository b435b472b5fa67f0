#pragma once

#include <functional>
#include <memory>
#include <variant>

#include "daemon/http/connection.hpp"
#include "daemon/http/events.hpp"
#include "daemon/http/message.hpp"
#include "daemon/http/places.hpp"

namespace oxherd::daemon::http {

/// The asker gets the stream of events from now on.
struct StreamStart {};
using Answer = std::variant<HttpResponse, StreamStart>;
/// Called once, from any thread.
using Respond = std::function<void(Answer)>;
/// Answers one request; called on the server's thread.
using Handler = std::function<void(HttpRequest, Respond)>;

/// What a session must be given, beside its connection.
struct SessionParts {
  Handler handler;
  /// Runs it on the server's thread; nothing happens once the server is gone.
  std::function<void(std::function<void()>)> back;
  EventHub& hub;
  std::shared_ptr<Places> places;
};

/// Serves one connection until it ends: request after request, or the stream. Lives by itself. At most 16 KiB of head
/// and 64 KiB of body; a request must be there within 10 s, the next one within a minute, and an answer must be taken
/// within 20 s.
void serve(std::unique_ptr<Connection> connection, const SessionParts& parts);

} // namespace oxherd::daemon::http
