#pragma once

#include <span>
#include <string_view>

#include "daemon/http/message.hpp"

namespace oxherd::daemon::http {

/// A file of the page, built into the program.
struct Asset {
  std::string_view name; ///< "index.html"
  std::string_view type; ///< of its content
  std::string_view gzip; ///< its bytes, compressed (RFC 1952)
  std::string_view tag;  ///< changes with its bytes
};

/// All of them; made by daemon/web/embed.py.
[[nodiscard]] std::span<const Asset> assets();
/// Null: there is none.
[[nodiscard]] const Asset* asset_named(std::string_view name);
[[nodiscard]] HttpResponse asset_answer(const HttpRequest& request, const Asset& asset);

} // namespace oxherd::daemon::http
