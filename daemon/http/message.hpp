#pragma once

#include <map>
#include <string>
#include <string_view>
#include <vector>

namespace oxherd::daemon::http {

enum class Method { get, head, post, remove, other };

/// What somebody asked over HTTP, taken apart. Header names are in lower case.
struct HttpRequest {
  Method method = Method::get;
  std::vector<std::string> path; ///< decoded segments: "/api/rooms/bay-3" is {"api", "rooms", "bay-3"}
  std::map<std::string, std::string, std::less<>> query;
  std::map<std::string, std::string, std::less<>> headers;
  std::string body;
  std::string peer;               ///< address of who asks
  bool from_this_machine = false; ///< over the loopback interface

  [[nodiscard]] std::string_view header(std::string_view name) const;
  [[nodiscard]] std::string_view parameter(std::string_view name) const; ///< of the query; empty: not there
  /// Of the header `cookie`; empty when it is not there.
  [[nodiscard]] std::string_view cookie(std::string_view name) const;
};

/// Takes the target of a request apart, percent-encoding undone. False: it is none that a browser would send.
[[nodiscard]] bool parse_target(std::string_view target, HttpRequest& into);

/// As it may stand in a target: all but letters, digits and "-._~" as %XX (RFC 3986).
[[nodiscard]] std::string percent_encoded(std::string_view text);

struct HttpResponse {
  int status = 200;
  std::string type = "application/json";
  std::string body;
  std::vector<std::pair<std::string, std::string>> headers;
};

/// RFC 9457: what is wrong, and in `detail` what a person should do.
[[nodiscard]] HttpResponse problem(int status, std::string_view detail);
/// "Not Found"
[[nodiscard]] std::string_view reason_of(int status);

/// The bytes that go out: status line, headers with those that every answer has, and the body unless it was a HEAD.
/// @param close  the connection ends with it
[[nodiscard]] std::string wire_form(const HttpResponse& response, bool head_only, bool close);

/// The head of an answer that does not end: server-sent events.
[[nodiscard]] std::string stream_head();

/// Sent with every answer: what the page may load, and that nobody may put it into a frame or guess its type.
inline constexpr std::string_view content_security_policy =
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; font-src "
    "'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'";

} // namespace oxherd::daemon::http
