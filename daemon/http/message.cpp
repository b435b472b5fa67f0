#include "daemon/http/message.hpp"

#include <fmt/core.h>

#include "daemon/json_text.hpp"

namespace oxherd::daemon::http {
namespace {

int hex_digit(char c) {
  if (c >= '0' && c <= '9') return c - '0';
  if (c >= 'a' && c <= 'f') return c - 'a' + 10;
  if (c >= 'A' && c <= 'F') return c - 'A' + 10;
  return -1;
}

/// Control characters come from nobody who means well, and would end up in logs.
bool decode(std::string_view text, bool plus_is_space, std::string& out) {
  out.clear();
  for (std::size_t i = 0; i < text.size(); ++i) {
    char c = text[i];
    if (c == '%') {
      const int high = i + 2 < text.size() ? hex_digit(text[i + 1]) : -1;
      const int low = i + 2 < text.size() ? hex_digit(text[i + 2]) : -1;
      if (high < 0 || low < 0) return false;
      c = static_cast<char>(high * 16 + low);
      i += 2;
    } else if (c == '+' && plus_is_space)
      c = ' ';
    const auto byte = static_cast<unsigned char>(c);
    if (byte < 0x20 || byte == 0x7f) return false;
    out += c;
  }
  return true;
}

/// Calls `take` with each piece between separators.
template <class Take> bool each(std::string_view text, char separator, Take take) {
  while (true) {
    const auto end = text.find(separator);
    if (!take(text.substr(0, end))) return false;
    if (end == std::string_view::npos) return true;
    text.remove_prefix(end + 1);
  }
}

std::string_view found_in(const std::map<std::string, std::string, std::less<>>& map, std::string_view name) {
  const auto found = map.find(name);
  return found == map.end() ? std::string_view{} : std::string_view{found->second};
}

} // namespace

std::string percent_encoded(std::string_view text) {
  std::string out;
  for (const char c : text) {
    const bool plain = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '-' ||
                       c == '.' || c == '_' || c == '~';
    out += plain ? std::string{c} : fmt::format("%{:02X}", static_cast<unsigned char>(c));
  }
  return out;
}

std::string_view HttpRequest::header(std::string_view name) const { return found_in(headers, name); }
std::string_view HttpRequest::parameter(std::string_view name) const { return found_in(query, name); }

std::string_view HttpRequest::cookie(std::string_view name) const {
  std::string_view value;
  each(header("cookie"), ';', [&](std::string_view one) {
    while (!one.empty() && one.front() == ' ') one.remove_prefix(1);
    if (one.size() > name.size() && one.substr(0, name.size()) == name && one[name.size()] == '=')
      value = one.substr(name.size() + 1);
    return value.empty();
  });
  return value;
}

bool parse_target(std::string_view target, HttpRequest& into) {
  if (target.empty() || target.front() != '/') return false;
  const auto mark = target.find('?');
  std::string name, value;
  const bool path_read =
      each(target.substr(1, mark == std::string_view::npos ? mark : mark - 1), '/', [&](std::string_view segment) {
        if (!decode(segment, false, value) || value == "." || value == "..") return false;
        if (!value.empty()) into.path.push_back(value);
        return true;
      });
  if (!path_read || mark == std::string_view::npos) return path_read;
  return each(target.substr(mark + 1), '&', [&](std::string_view pair) {
    if (pair.empty()) return true;
    const auto equals = pair.find('=');
    const auto rest = equals == std::string_view::npos ? std::string_view{} : pair.substr(equals + 1);
    if (!decode(pair.substr(0, equals), true, name) || !decode(rest, true, value)) return false;
    return into.query.emplace(name, value).second; // what stands twice has no meaning
  });
}

std::string_view reason_of(int status) {
  switch (status) {
  case 200: return "OK";
  case 204: return "No Content";
  case 304: return "Not Modified";
  case 400: return "Bad Request";
  case 401: return "Unauthorized";
  case 403: return "Forbidden";
  case 404: return "Not Found";
  case 405: return "Method Not Allowed";
  case 406: return "Not Acceptable";
  case 409: return "Conflict";
  case 413: return "Content Too Large";
  case 415: return "Unsupported Media Type";
  case 429: return "Too Many Requests";
  case 431: return "Request Header Fields Too Large";
  case 503: return "Service Unavailable";
  default: return "Internal Server Error";
  }
}

HttpResponse problem(int status, std::string_view detail) {
  return {status,
          "application/problem+json",
          JsonObject{}
              .text("type", "about:blank")
              .text("title", reason_of(status))
              .integer("status", status)
              .text("detail", detail)
              .str(),
          {}};
}

namespace {

/// What goes with every answer, and the end of the head.
std::string common_headers(std::string_view connection) {
  return fmt::format("X-Content-Type-Options: nosniff\r\nReferrer-Policy: no-referrer\r\n"
                     "Cross-Origin-Resource-Policy: same-origin\r\nConnection: {}\r\n\r\n",
                     connection);
}

/// Unless an answer has one of its own.
std::string policy_header() { return fmt::format("Content-Security-Policy: {}\r\n", content_security_policy); }

} // namespace

std::string wire_form(const HttpResponse& response, bool head_only, bool close) {
  std::string out = fmt::format("HTTP/1.1 {} {}\r\n", response.status, reason_of(response.status));
  const bool empty = response.status == 304 || response.status == 204;
  if (!empty) out += fmt::format("Content-Type: {}\r\nContent-Length: {}\r\n", response.type, response.body.size());
  bool cached = false, policy = false;
  for (const auto& [name, value] : response.headers) {
    out += fmt::format("{}: {}\r\n", name, value);
    cached = cached || name == "Cache-Control";
    policy = policy || name == "Content-Security-Policy";
  }
  if (!cached) out += "Cache-Control: no-store\r\n";
  if (!policy) out += policy_header();
  out += common_headers(close ? "close" : "keep-alive");
  if (!head_only && !empty) out += response.body;
  return out;
}

std::string stream_head() {
  return "HTTP/1.1 200 OK\r\nContent-Type: text/event-stream\r\nCache-Control: no-store\r\n" + policy_header() +
         common_headers("close");
}

} // namespace oxherd::daemon::http
