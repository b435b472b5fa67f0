#pragma once

#include <optional>
#include <string>
#include <variant>

#include "daemon/http/message.hpp"
#include "daemon/identity/sessions.hpp"

// What can be asked under /api/, as the requests that the decision loop answers. Pure.
namespace oxherd::daemon::http {

/// How an answer is written out.
enum class Form { json, csv, lines, page };

/// A request for the decision loop: the same line of JSON that comes through the Unix socket.
struct Question {
  std::string line;
  Form form = Form::json;
};

/// What somebody wants of /api/, or why it is refused. `/api/session` and `/api/stream` are not among it.
/// @param person  who asks; none: nobody has signed in
/// @param anyone_may_view  reading needs no sign-in
[[nodiscard]] std::variant<Question, HttpResponse>
question_of(const HttpRequest& request, const std::optional<identity::Person>& person, bool anyone_may_view);

/// The daemon's answer line as an answer over HTTP, with an entity tag; 304 when the asker has the same already.
[[nodiscard]] HttpResponse answer_of(const HttpRequest& request, const Question& question, const std::string& line);

} // namespace oxherd::daemon::http
