#include "daemon/mqtt/login.hpp"

#include <chrono>
#include <utility>

#include "daemon/mqtt/password_file.hpp"

namespace oxherd::daemon {
namespace {

constexpr std::chrono::milliseconds explain_patience{1500};

} // namespace

std::string client_id_of(const config::Mqtt& settings, const std::string& site) {
  return settings.client_id.empty() ? "oxherd-" + site : settings.client_id;
}

tl::expected<ConnectionSettings, std::string> login_of(const config::Mqtt& settings, std::string client_id, Will will) {
  const auto broker = parse_broker(settings.broker);
  if (!broker) return tl::unexpected(broker.error());
  ConnectionSettings with;
  with.broker = *broker;
  with.tls = {settings.ca_file, settings.certificate_file, settings.key_file};
  with.client_id = std::move(client_id);
  with.user = settings.user;
  with.will = std::move(will);
  with.keep_alive = settings.keep_alive;
  if (settings.password_file) {
    auto password = read_password(*settings.password_file);
    if (!password) return tl::unexpected(password.error());
    with.password = std::move(*password);
  }
  return with;
}

std::string why_refused(const ConnectionEvent& refused, const ConnectionSettings& with) {
  if (!refused.words.empty()) return refused.words;
  auto why = why_unreachable(with.broker, with.tls, explain_patience);
  if (!why.empty()) return why;
  return "it takes connections but does not answer in MQTT; is it hung, busy, or another kind of server?";
}

} // namespace oxherd::daemon
