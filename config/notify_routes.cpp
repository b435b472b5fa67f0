#include <algorithm>
#include <array>

#include <fmt/core.h>

#include "config/host_port.hpp"
#include "config/notify_sections.hpp"
#include "config/rules.hpp"
#include "config/sections.hpp"

namespace oxherd::config {
namespace {

using compensation::Dimension;

enum class RouteKind { mail, webhook, syslog, cap_files, mqtt };
constexpr std::array<Choice<RouteKind>, 5> route_kinds{{{"e-mail", RouteKind::mail},
                                                        {"webhook", RouteKind::webhook},
                                                        {"syslog", RouteKind::syslog},
                                                        {"cap-files", RouteKind::cap_files},
                                                        {"mqtt", RouteKind::mqtt}}};
constexpr std::array<Choice<bool>, 2> bodies{{{"json", false}, {"cap", true}}};
/// RFC 5424, table 1: those that a program of a site may use.
constexpr std::array<Choice<int>, 10> facilities{{{"user", 1},
                                                  {"daemon", 3},
                                                  {"local0", 16},
                                                  {"local1", 17},
                                                  {"local2", 18},
                                                  {"local3", 19},
                                                  {"local4", 20},
                                                  {"local5", 21},
                                                  {"local6", 22},
                                                  {"local7", 23}}};
constexpr QuantityRule attempt_span{Dimension::duration, 1.0, 120.0, "1 s to 2 min"};
constexpr QuantityRule report_span{Dimension::duration, 1.0, 3600.0, "1 s to 1 h"};
constexpr QuantityRule keep_span{Dimension::duration, 60.0, 7.0 * 86400.0, "1 min to 7 d"};
constexpr QuantityRule beat_span{Dimension::duration, 5.0, 3600.0, "5 s to 1 h"};

bool is_this_machine(std::string_view host) { return host == "localhost" || host == "::1" || host.starts_with("127."); }

/// "scheme://host:port/path", split; the error is a sentence.
struct SplitUrl {
  bool secure = false;
  HostPort at;
  std::string path;
};
struct Schemes {
  std::string_view secure, plain;
  int secure_port, plain_port;
};

tl::expected<SplitUrl, std::string> split_url(std::string_view text, const Schemes& schemes) {
  SplitUrl url;
  url.secure = text.starts_with(fmt::format("{}://", schemes.secure));
  if (!url.secure && !text.starts_with(fmt::format("{}://", schemes.plain)))
    return tl::unexpected(fmt::format("\"{}\" is no such address; write {}://host", text, schemes.secure));
  const auto is_plain = [](char c) { return c > 0x20 && c < 0x7F; };
  if (!std::all_of(text.begin(), text.end(), is_plain))
    return tl::unexpected(std::string{"blanks, control characters and letters outside ASCII cannot stand in an "
                                      "address; write them as %XX"});
  text.remove_prefix(text.find("://") + 3);
  const auto slash = std::min(text.find_first_of("/?#"), text.size());
  const auto authority = text.substr(0, slash);
  url.path = text.substr(slash);
  if (authority.find('@') != authority.npos)
    return tl::unexpected(std::string{"a user or password does not belong in the address; it would stand in logs"});
  const auto at = host_and_port(authority, url.secure ? schemes.secure_port : schemes.plain_port);
  if (!at) return tl::unexpected(at.error());
  url.at = *at;
  return url;
}

void check_http_url(TableReader& in, std::string_view key, const std::string& text) {
  const auto url = split_url(text, {"https", "http", 443, 80});
  if (!url)
    in.error(key, url.error());
  else if (!url->secure && !is_this_machine(url->at.host))
    in.error(key, "anyone on the way could read and forge it; use https:// (http:// is for this machine only)");
}

/// Something like NAME@HOST, with nothing in it that could end a header or a command.
bool is_mail_address(std::string_view text) {
  const auto fits = [](char c) { return c > 0x20 && c < 0x7F && c != '<' && c != '>' && c != ',' && c != '"'; };
  const auto at = text.find('@');
  return at != text.npos && at > 0 && at + 1 < text.size() && text.find('@', at + 1) == text.npos &&
         std::all_of(text.begin(), text.end(), fits);
}

MailRoute read_mail(TableReader& in) {
  MailRoute mail;
  in.require("server", "\"smtps://mail.larkfield.example\"");
  in.require("from", "\"oxherd@larkfield.example\"");
  mail.user = in.text("user");
  mail.password_file = in.text("password_file");
  mail.ca_file = in.text("ca_file");
  if (in.has("password"))
    in.error("password", "a password is not kept in this file, which many may read; put it into a file of its own that "
                         "only the daemon can read and name that with password_file");
  if (mail.user.has_value() != mail.password_file.has_value())
    in.error(mail.user ? "user" : "password_file", "user and password_file only work together");
  mail.from = in.text("from").value_or("");
  if (in.has("from") && !is_mail_address(mail.from))
    in.error("from", "is no e-mail address such as oxherd@site.example");
  if (const auto server = in.text("server")) {
    const auto url = split_url(*server, {"smtps", "smtp", 465, 587}); // the ports registered with IANA for submission
    if (!url)
      in.error("server", url.error());
    else if (!url->path.empty())
      in.error("server", "ends with its port; nothing may follow");
    else
      mail.server = fmt::format("{}://{}:{}", url->secure ? "smtps" : "smtp",
                                url->at.host.find(':') == std::string::npos ? url->at.host : "[" + url->at.host + "]",
                                url->at.port);
  }
  return mail;
}

WebhookRoute read_webhook(TableReader& in) {
  WebhookRoute hook;
  in.require("url", "\"https://hooks.larkfield.example/oxherd\"");
  hook.url = in.text("url").value_or("");
  if (!hook.url.empty()) check_http_url(in, "url", hook.url);
  hook.cap = in.choice("body", bodies).value_or(false);
  hook.secret_file = in.text("secret_file");
  hook.ca_file = in.text("ca_file");
  if (in.has("secret"))
    in.error("secret",
             "a secret is not kept in this file, which many may read; put it into a file of its own that only "
             "the daemon can read and name that with secret_file");
  return hook;
}

SyslogRoute read_syslog(TableReader& in) {
  SyslogRoute log;
  log.facility = in.choice("facility", facilities).value_or(log.facility);
  const auto to = in.text("to");
  if (!to) return log;
  constexpr std::string_view local = "unix:";
  if (to->starts_with(local)) {
    log.path = to->substr(local.size());
    if (!log.path.starts_with('/') || log.path.size() > 100) in.error("to", "names no socket, such as unix:/dev/log");
    return log;
  }
  log.transport = to->starts_with("tcp://") ? SyslogRoute::Transport::tcp : SyslogRoute::Transport::udp;
  if (!to->starts_with("tcp://") && !to->starts_with("udp://")) {
    in.error("to", fmt::format("\"{}\" is no receiver; write unix:/dev/log, udp://host:514 or tcp://host:601", *to));
    return log;
  }
  const auto at = host_and_port(std::string_view{*to}.substr(6), 514);
  if (!at) {
    in.error("to", at.error());
    return log;
  }
  log.host = at->host;
  log.port = at->port;
  const bool numeric = log.host.find_first_not_of("0123456789abcdef.:") == std::string::npos &&
                       log.host.find_first_of("0123456789") != std::string::npos;
  if (log.transport == SyslogRoute::Transport::udp && !numeric && log.host != "localhost")
    in.error("to", fmt::format("udp:// needs a numeric address, so that no look-up of \"{}\" can hold up other routes",
                               log.host));
  return log;
}

CapFilesRoute read_cap_files(TableReader& in) {
  CapFilesRoute files;
  in.require("directory", "\"/var/spool/oxherd\"");
  files.directory = in.text("directory").value_or("");
  if (in.has("directory") && !files.directory.starts_with('/')) in.error("directory", "is no path from the root");
  return files;
}

MqttRoute read_mqtt_route(TableReader& in, const std::string& message_topic) {
  MqttRoute mqtt{in.text("topic").value_or(message_topic)};
  if (!is_topic_prefix(mqtt.topic))
    in.error("topic", fmt::format("\"{}\" cannot start a topic; use levels joined by single slashes, without +, # or "
                                  "spaces; the contact's name is added as the last one",
                                  mqtt.topic));
  return mqtt;
}

} // namespace

NotifyRoute read_route(const std::string& name, TableReader in, const std::string& message_topic) {
  NotifyRoute route;
  route.name = name;
  in.require("kind", "\"e-mail\"");
  const auto kind = in.choice("kind", route_kinds);
  route.timeout = in.duration("timeout", attempt_span).value_or(route.timeout);
  route.report_after = in.duration("report_after", report_span).value_or(route.report_after);
  route.give_up_after = in.duration("give_up_after", keep_span).value_or(route.give_up_after);
  if (!kind) { // which keys belong here is not known; none of them is reported as unknown
    for (const std::string_view key : {"server", "from", "user", "password_file", "ca_file", "url", "body",
                                       "secret_file", "to", "facility", "directory", "topic"})
      static_cast<void>(in.has(key));
    in.finish();
    return route;
  }
  switch (*kind) {
  case RouteKind::mail: route.kind = read_mail(in); break;
  case RouteKind::webhook: route.kind = read_webhook(in); break;
  case RouteKind::syslog: route.kind = read_syslog(in); break;
  case RouteKind::cap_files: route.kind = read_cap_files(in); break;
  case RouteKind::mqtt: route.kind = read_mqtt_route(in, message_topic); break;
  }
  in.finish();
  return route;
}

bool is_address_for(const NotifyRoute& route, const std::string& address) {
  if (std::holds_alternative<MailRoute>(route.kind)) return is_mail_address(address);
  return std::none_of(address.begin(), address.end(),
                      [](char c) { return static_cast<unsigned char>(c) < 0x20 || c == 0x7F; });
}

Watcher read_watcher(TableReader in) {
  constexpr std::array<Choice<bool>, 2> methods{{{"POST", true}, {"GET", false}}};
  Watcher watcher;
  in.require("url", "\"https://watch.larkfield.example/larkfield\"");
  watcher.url = in.text("url").value_or("");
  if (!watcher.url.empty()) check_http_url(in, "url", watcher.url);
  watcher.post = in.choice("method", methods).value_or(watcher.post);
  watcher.every = in.duration("every", beat_span).value_or(watcher.every);
  watcher.timeout = std::min(in.duration("timeout", attempt_span).value_or(watcher.timeout), watcher.every);
  watcher.ca_file = in.text("ca_file");
  in.finish();
  return watcher;
}

} // namespace oxherd::config
