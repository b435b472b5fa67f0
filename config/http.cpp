#include <arpa/inet.h>

#include <fmt/core.h>

#include "config/host_port.hpp"
#include "config/sections.hpp"

namespace oxherd::config {
namespace {

bool is_numeric(const std::string& host) {
  in6_addr address{};
  return inet_pton(AF_INET, host.c_str(), &address) == 1 || inet_pton(AF_INET6, host.c_str(), &address) == 1;
}

bool is_loopback_address(const std::string& host) { return host == "::1" || host.starts_with("127."); }

void read_listen(TableReader& in, Http& http) {
  const auto text = in.text("listen");
  if (!text) return;
  const auto address = host_and_port(*text, http.port);
  if (!address) return in.error("listen", address.error());
  if (!is_numeric(address->host))
    return in.error("listen", fmt::format("\"{}\" is no numeric address: write \"127.0.0.1:8120\" for this machine "
                                          "alone, \"0.0.0.0:8120\" for all of its networks, or \"off\"",
                                          address->host));
  http.host = address->host;
  http.port = address->port;
}

} // namespace

std::optional<Http> read_http(TableReader in) {
  Http http;
  const bool off = in.text("listen") == "off";
  if (!off) read_listen(in, http);
  http.names = in.texts("names");
  http.certificate_file = in.text("certificate_file");
  http.key_file = in.text("key_file");
  http.view_without_sign_in = in.boolean("view_without_sign_in").value_or(http.view_without_sign_in);
  for (const auto& [one, other] : {std::pair{"certificate_file", "key_file"}, {"key_file", "certificate_file"}})
    if (in.has(one) && !in.has(other)) in.error(one, fmt::format("needs {} beside it", other));
  if (!off && !is_loopback_address(http.host) && !http.certificate_file)
    in.error("listen", "other machines are served by TLS only: give certificate_file and key_file");
  in.finish();
  return off ? std::nullopt : std::optional{http};
}

} // namespace oxherd::config
