#pragma once

#include <chrono>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include <tl/expected.hpp>

namespace oxherd::daemon::logfile {

/// Milliseconds since 1970-01-01T00:00:00Z.
using FileTime = std::int64_t;

/// A time as a row has it.
struct WrittenTime {
  FileTime shown = 0; ///< milliseconds that the clock of the file shows since its 1970-01-01T00:00:00
  std::optional<std::chrono::minutes> offset; ///< from UTC, where the row states it
};

/// How a file writes its times, made ready for reading many of them.
///
/// Besides "iso" (ISO 8601 calendar date and time of day, RFC 3339 among them), "epoch-s" and "epoch-ms", a pattern
/// of conversions as strptime has them: %Y %y %m %d %e %H %I %M %S %f (digits of a fraction) %p %b %B (English names)
/// %j %z (offset or Z) %F %T %D %R and %%. %S takes a fraction where the text has one; a blank of the pattern takes
/// any number of blanks.
/// @source POSIX.1-2017, strptime; %f and %F are common extensions
class TimeFormat {
public:
  /// The error is a sentence.
  [[nodiscard]] static tl::expected<TimeFormat, std::string> make(std::string_view text);
  /// Nothing when the text does not fit the format or names no day of the calendar. Epochs count in UTC.
  [[nodiscard]] std::optional<WrittenTime> read(std::string_view text);
  /// The instant; nothing as above.
  /// @param offset  of the clock that wrote a time without an offset of its own
  [[nodiscard]] std::optional<FileTime> parse(std::string_view text, std::chrono::minutes offset);
  /// Whether a time was read that stated no offset of its own.
  [[nodiscard]] bool took_offset() const { return took_offset_; }

private:
  enum class Kind { iso, epoch_s, epoch_ms, pattern };
  struct Token {
    char conversion = 0; ///< 0: the literal
    char literal = 0;
  };
  struct Parts;

  [[nodiscard]] bool read_iso(std::string_view text, Parts& parts) const;
  [[nodiscard]] bool read_pattern(std::string_view text, Parts& parts) const;
  [[nodiscard]] static bool read_token(Token token, std::string_view& text, Parts& parts);
  [[nodiscard]] std::optional<FileTime> shown(const Parts& parts);

  Kind kind_ = Kind::iso;
  bool took_offset_ = false;
  std::vector<Token> tokens_;
  // The day is the same for thousands of rows.
  int day_key_ = -1;
  std::int64_t day_ms_ = 0;
};

/// "UTC", "Z", "+01:00", "-0330".
[[nodiscard]] std::optional<std::chrono::minutes> offset_named(std::string_view text);

} // namespace oxherd::daemon::logfile
