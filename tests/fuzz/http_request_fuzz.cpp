// Whatever is asked over HTTP: the first line is a method and a target, then headers, an empty line, and the body. What
// comes of it is a question that the daemon can read or an answer that a client can, and no text of the asker's ever
// becomes a header of its own.
#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>

#include <nlohmann/json.hpp>

#include "daemon/control_socket/requests.hpp"
#include "daemon/http/api.hpp"

namespace {

using namespace oxherd::daemon;
using namespace oxherd::daemon::http;

std::string_view line_of(std::string_view& text) {
  const auto end = text.find('\n');
  const auto line = text.substr(0, end);
  text.remove_prefix(end == std::string_view::npos ? text.size() : end + 1);
  return line;
}

void demand(bool holds) {
  if (!holds) __builtin_trap();
}

void look_at(const HttpResponse& response) {
  demand(response.status >= 200 && response.status < 600);
  if (response.status >= 400) demand(nlohmann::json::accept(response.body));
  const auto wire = wire_form(response, true, false);
  const auto head = wire.substr(0, wire.find("\r\n\r\n"));
  for (std::size_t i = 0; i < head.size(); ++i) { // no lone CR or LF, no control character
    if (head.compare(i, 2, "\r\n") == 0)
      ++i;
    else
      demand(static_cast<unsigned char>(head[i]) >= 0x20);
  }
}

} // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  std::string_view text{reinterpret_cast<const char*>(data), size};
  const auto first = line_of(text);
  HttpRequest request;
  request.method = first.starts_with("POST ")     ? Method::post
                   : first.starts_with("DELETE ") ? Method::remove
                                                  : Method::get;
  const auto space = first.find(' ');
  if (!parse_target(space == std::string_view::npos ? first : first.substr(space + 1), request)) return 0;
  std::string written;
  for (const auto& segment : request.path) written += '/' + percent_encoded(segment);
  HttpRequest again;
  demand(parse_target(written.empty() ? "/" : written, again) && again.path == request.path);
  while (!text.empty()) {
    const auto line = line_of(text);
    if (line.empty()) break;
    const auto colon = line.find(':');
    if (colon != std::string_view::npos) request.headers[std::string{line.substr(0, colon)}] = line.substr(colon + 1);
  }
  request.body = text;
  static_cast<void>(request.cookie("oxherd"));
  const identity::Person engineer{"Mira", identity::Role::engineer, ""};
  const auto asked = question_of(request, engineer, true);
  if (const auto* refused = std::get_if<HttpResponse>(&asked)) {
    look_at(*refused);
    return 0;
  }
  const auto& question = std::get<Question>(asked);
  demand(question.line.find('\n') == std::string::npos && nlohmann::json::accept(question.line));
  const auto read = parse_request(question.line);
  demand(read.has_value() || !read.error().empty());
  look_at(answer_of(request, question, R"({"ok":false,"error":"there is no such room"})"));
  look_at(answer_of(request, question, R"({"ok":true,"result":{}})"));
  return 0;
}
