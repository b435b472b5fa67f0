#pragma once

#include <array>
#include <chrono>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "alarms/annunciation.hpp"
#include "config/rota.hpp"

// How people learn of alarms. All delays are proposals of the project, after common practice.
namespace oxherd::config {

/// kind = "e-mail"
struct MailRoute {
  std::string server; ///< smtps://host:port, or smtp://host:port with STARTTLS unless the host is this machine
  std::string from;
  std::optional<std::string> user, password_file; ///< the file must not be readable by others
  std::optional<std::string> ca_file;             ///< default: the system's certificates
  friend bool operator==(const MailRoute&, const MailRoute&) = default;
};
/// kind = "webhook": HTTPS POST; plain HTTP to this machine only.
struct WebhookRoute {
  std::string url;
  bool cap = false;                       ///< body = "cap": OASIS CAP 1.2 in place of JSON
  std::optional<std::string> secret_file; ///< key of the signature
  std::optional<std::string> ca_file;
  friend bool operator==(const WebhookRoute&, const WebhookRoute&) = default;
};
/// kind = "syslog": RFC 5424.
struct SyslogRoute {
  enum class Transport { unix_datagram, udp, tcp };
  Transport transport = Transport::unix_datagram;
  std::string path = "/dev/log"; ///< of unix_datagram
  std::string host;
  int port = 514;
  int facility = 16; ///< local0
  friend bool operator==(const SyslogRoute&, const SyslogRoute&) = default;
};
/// kind = "cap-files": each message as one CAP 1.2 file of a directory.
struct CapFilesRoute {
  std::string directory;
  friend bool operator==(const CapFilesRoute&, const CapFilesRoute&) = default;
};
/// kind = "mqtt": JSON on the daemon's own broker, QoS 1, not retained.
struct MqttRoute {
  std::string topic; ///< the contact's name comes below it
  friend bool operator==(const MqttRoute&, const MqttRoute&) = default;
};
/// [route.NAME]
struct NotifyRoute {
  std::string name;
  std::variant<MailRoute, WebhookRoute, SyslogRoute, CapFilesRoute, MqttRoute> kind;
  std::chrono::milliseconds timeout{15000};          ///< of one attempt
  std::chrono::milliseconds report_after{60000};     ///< failing for this long is reported on the other routes
  std::chrono::milliseconds give_up_after{86400000}; ///< a message that cannot be delivered is kept for this long
  friend bool operator==(const NotifyRoute&, const NotifyRoute&) = default;
};

/// [contact.NAME]
struct Contact {
  std::string name;
  std::string person; ///< as messages call them
  std::vector<std::string> routes;
  std::string address; ///< e-mail address, or what a webhook shall name as the receiver
  TimeZone zone;
  std::optional<WeeklyHours> quiet_hours; ///< never for safety alarms, nor for rooms that are not monitored
  friend bool operator==(const Contact&, const Contact&) = default;
};

/// Whether it is one of the contact's quiet hours.
[[nodiscard]] inline bool is_quiet(const Contact& contact, std::chrono::sys_time<std::chrono::milliseconds> at) {
  return contact.quiet_hours && is_within(*contact.quiet_hours, local_minutes(contact.zone, at));
}

/// One step of a ladder: so long after the annunciation, unless somebody has acknowledged.
struct LadderStep {
  std::chrono::milliseconds after{0};
  std::vector<std::string> to; ///< contacts and rotas
  friend bool operator==(const LadderStep&, const LadderStep&) = default;
};
/// [escalation.PRIORITY]
struct Ladder {
  std::vector<LadderStep> steps;                         ///< by `after`, increasing
  std::optional<std::chrono::milliseconds> repeat_every; ///< the last step again, until somebody acknowledges
  bool working_hours = false;                            ///< steps wait for the site's working hours
  bool daily_digest = false; ///< no steps are climbed: those of the first one get a digest once a day
  friend bool operator==(const Ladder&, const Ladder&) = default;
};

/// Everything of the tables notify, route, contact, rota and escalation.
struct Notify {
  TimeZone zone; ///< that of the site, unless it has its own
  WeeklyHours working_hours{{true, true, true, true, true, false, false}, 8 * 60, 17 * 60};
  int digest_minute = 7 * 60 + 30;                   ///< of the day
  std::optional<std::chrono::hours> test_every{168}; ///< empty: "never"
  std::chrono::milliseconds answer_within{std::chrono::hours{24}};
  std::chrono::milliseconds merge_within{60000}; ///< messages that can wait: one at most a contact in this time
  std::vector<NotifyRoute> routes;
  std::vector<Contact> contacts;
  std::vector<Rota> rotas;
  std::array<Ladder, 4> ladders; ///< by alarms::Priority
  [[nodiscard]] const Ladder& ladder(alarms::Priority priority) const {
    return ladders[static_cast<std::size_t>(priority)];
  }
  friend bool operator==(const Notify&, const Notify&) = default;
};

/// [watcher]: somebody outside who learns when Oxherd falls silent.
struct Watcher {
  std::string url;
  bool post = true; ///< else GET
  std::chrono::milliseconds every{60000};
  std::chrono::milliseconds timeout{15000};
  std::optional<std::string> ca_file;
  friend bool operator==(const Watcher&, const Watcher&) = default;
};

} // namespace oxherd::config
