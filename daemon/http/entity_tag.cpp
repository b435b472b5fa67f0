#include "daemon/http/entity_tag.hpp"

#include "daemon/identity/users.hpp"

namespace oxherd::daemon::http {

HttpResponse with_entity_tag(const HttpRequest& request, HttpResponse response) {
  if (response.status != 200) return response;
  const std::string tag = '"' + identity::token_hash(response.body).substr(0, 32) + '"';
  response.headers.emplace_back("ETag", tag);
  response.headers.emplace_back("Cache-Control", "no-cache");
  const auto known = request.header("if-none-match");
  if (known == "*" || known.find(tag) != std::string_view::npos) {
    response.status = 304;
    response.body.clear();
  }
  return response;
}

} // namespace oxherd::daemon::http
