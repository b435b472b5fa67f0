#pragma once

#include <string>

#include "config/rota.hpp"
#include "daemon/notify/message.hpp"

namespace oxherd::daemon::notify {

/// What messages of a site have in common.
struct Sender {
  std::string site;
  config::TimeZone zone; ///< of the times in messages, which have UTC beside them
  std::string owner;     ///< whom an unexpected test is told to
};

/// A message as a person reads it.
struct Words {
  std::string brief; ///< at most 160 characters, without line breaks; also the subject. "TEST" first where it is one
  std::string body;  ///< lines; the caution, room, value ± U, limit, since, response and number are in it
};
[[nodiscard]] Words words_of(const Message& message, const Sender& sender);

/// 2026-11-26T08:26:55+01:00: RFC 3339 in that zone, to the second.
[[nodiscard]] std::string local_time(const config::TimeZone& zone, WallTime at);

/// The text cut to so many characters (code points), with "..." at its end where something was cut. Line breaks and
/// other control characters become blanks; what is not UTF-8 becomes "?".
[[nodiscard]] std::string one_line(std::string_view text, std::size_t characters);

} // namespace oxherd::daemon::notify
