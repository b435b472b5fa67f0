#include "daemon/http/assets.hpp"

#include <algorithm>

namespace oxherd::daemon::http {

const Asset* asset_named(std::string_view name) {
  const auto all = assets();
  const auto found = std::find_if(all.begin(), all.end(), [name](const Asset& asset) { return asset.name == name; });
  return found == all.end() ? nullptr : &*found;
}

HttpResponse asset_answer(const HttpRequest& request, const Asset& asset) {
  HttpResponse response;
  const std::string tag = '"' + std::string{asset.tag} + '"';
  response.headers = {{"ETag", tag}, {"Cache-Control", "no-cache"}, {"Vary", "Accept-Encoding"}};
  if (request.header("if-none-match").find(tag) != std::string_view::npos) {
    response.status = 304;
    return response;
  }
  // Every browser takes gzip; what does not is told so, rather than the program carrying everything twice.
  if (request.header("accept-encoding").find("gzip") == std::string_view::npos)
    return problem(406, "this is there in gzip only: send Accept-Encoding: gzip");
  response.type = asset.type;
  response.body = asset.gzip;
  response.headers.emplace_back("Content-Encoding", "gzip");
  return response;
}

} // namespace oxherd::daemon::http
