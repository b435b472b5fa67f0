#pragma once

#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/logfile/dialect.hpp"

namespace oxherd::daemon::logfile {

/// Where a field stands in its row, quotes included.
struct FieldSpan {
  std::uint32_t begin = 0;
  std::uint32_t end = 0;
};

/// The fields of a row. Room that was once needed is kept, so that rows cost no allocation.
class FieldList {
public:
  void clear() { count_ = 0; }
  void add(FieldSpan field) {
    if (count_ == room_.size()) room_.resize(2 * count_ + 16);
    room_.data()[count_++] = field;
  }
  [[nodiscard]] std::size_t size() const { return count_; }
  [[nodiscard]] bool empty() const { return count_ == 0; }
  [[nodiscard]] const FieldSpan& operator[](std::size_t i) const { return room_[i]; }
  [[nodiscard]] FieldSpan& operator[](std::size_t i) { return room_[i]; }

private:
  std::vector<FieldSpan> room_;
  std::size_t count_ = 0;
};

/// One row as the file has it. The views hold until the next row is read.
struct Row {
  std::string_view bytes;    ///< without the line end
  std::string_view line_end; ///< "\n", "\r\n", or nothing for the last line of a file
  std::uint64_t line = 0;    ///< line of the file in which the row begins, from 1
  std::uint64_t lines = 1;   ///< lines it takes: quoted fields may contain line breaks
  bool open_quote = false;   ///< a quoted field does not end as RFC 4180 asks; this is one line, divided at delimiters
  bool too_long = false;     ///< longer than the buffer; `bytes` is a piece and has no fields
  bool unfinished = false;   ///< more pieces of this row follow
  FieldList fields;

  [[nodiscard]] std::string_view field(std::size_t i) const {
    return bytes.substr(fields[i].begin, fields[i].end - fields[i].begin);
  }
};

/// A field without blanks around it and without its quotes. A doubled quote inside is resolved into `scratch`.
[[nodiscard]] std::string_view content_of(std::string_view field, const Dialect& dialect, std::string& scratch);

/// Blanks and tabs at both ends removed.
[[nodiscard]] std::string_view trimmed(std::string_view text);

/// Divides text into rows; knows nothing of where the text comes from.
/// @source RFC 4180, section 2; line ends of LF and CRLF, also mixed in one file
class RowSplitter {
public:
  explicit RowSplitter(const Dialect& dialect);
  /// Takes the row that begins at the start of `text` and says how many bytes it used, its line end included; 0 when
  /// the row does not end in `text`, unless `last` says that nothing follows. Sets neither `line` nor the pieces.
  std::size_t split(std::string_view text, bool last, Row& row) const;
  /// The same for a row whose quotes cannot be believed: it ends with its line, and only delimiters divide it.
  std::size_t split_line(std::string_view text, bool last, Row& row) const;

private:
  std::size_t split_quoted(std::string_view text, bool last, Row& row) const;
  void split_at_blanks(Row& row) const;

  Dialect dialect_;
  bool stops_[256] = {}; ///< delimiter and line feed
};

} // namespace oxherd::daemon::logfile
