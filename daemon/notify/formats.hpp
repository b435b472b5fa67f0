#pragma once

#include <string>
#include <string_view>

#include "config/notify_settings.hpp"
#include "daemon/notify/words.hpp"

// A message in the form that each kind of route carries. All pure; what comes from people or settings can end no
// header, field or element.
namespace oxherd::daemon::notify {

/// An e-mail with its headers, lines ended by CR LF, the body quoted-printable.
/// @source  RFC 5322 (headers), RFC 2047 (words outside ASCII), RFC 2045, 6.7 (quoted-printable), RFC 3834, 5
///          (Auto-Submitted)
/// @checked tests/daemon/notify/formats_test.cpp; parsed by Python's email package in tests/system/test_notify.py
[[nodiscard]] std::string mail_text(const Message& message, const Sender& sender, const config::Contact& to,
                                    const std::string& from);

/// The body of a webhook, and of a message to the broker, as JSON: id, number, kind, test, brief, text and what is
/// known of each alarm.
[[nodiscard]] std::string webhook_json(const Message& message, const Sender& sender, const config::Contact& to);

/// "sha256=HEX": HMAC-SHA256 of "TIMESTAMP.BODY", for the header Oxherd-Signature beside Oxherd-Timestamp.
/// @source RFC 2104; checked with Python's hmac in tests/system/test_notify.py
[[nodiscard]] std::string signature(std::string_view secret, std::int64_t timestamp_s, std::string_view body);

/// One message of RFC 5424, without framing. PRI from facility and priority, structured data with the facts.
[[nodiscard]] std::string syslog_text(const Message& message, const Sender& sender, int facility,
                                      const std::string& host_name, int process);
/// Its severity (RFC 5424, table 2).
[[nodiscard]] int severity_of(const Message& message);
/// Framed for TCP: octet counting (RFC 6587, 3.4.1).
[[nodiscard]] std::string octet_counted(std::string_view text);

/// An alert of the Common Alerting Protocol.
/// @source  OASIS Standard CAP-V1.2, 1 July 2010 (from memory)
/// @checked tests/system/cap_rules.py, the rules of the standard
[[nodiscard]] std::string cap_text(const Message& message, const Sender& sender, const config::Contact& to);

} // namespace oxherd::daemon::notify
