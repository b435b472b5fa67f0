#pragma once

#include <algorithm>
#include <cstring>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/logfile/input.hpp"

namespace oxherd::daemon::logfile_test {

/// A text that arrives in pieces of at most `piece` bytes, as from a slow pipe.
class TextSource final : public logfile::ByteSource {
public:
  explicit TextSource(std::string text, std::size_t piece = 1U << 20U) : text_{std::move(text)}, piece_{piece} {}
  [[nodiscard]] tl::expected<std::size_t, logfile::Failure> read(char* to, std::size_t room) override {
    const std::size_t n = std::min({room, piece_, text_.size() - at_});
    std::memcpy(to, text_.data() + at_, n);
    at_ += n;
    return n;
  }

private:
  std::string text_;
  std::size_t piece_;
  std::size_t at_ = 0;
};

/// One row, copied out of the reader's buffer.
struct ReadRow {
  std::string bytes, line_end;
  std::vector<std::string> fields;
  std::uint64_t line = 0;
  bool open_quote = false, too_long = false, unfinished = false;
};

inline std::vector<ReadRow> rows_of(const std::string& text, const logfile::Dialect& dialect,
                                    std::size_t buffer = logfile::RowReader::buffer_bytes,
                                    std::size_t piece = 1U << 20U) {
  TextSource source{text, piece};
  logfile::RowReader reader{source, "test.csv", buffer};
  reader.divide_by(dialect);
  std::vector<ReadRow> rows;
  logfile::Row row;
  while (reader.next(row).value_or(false)) {
    auto& copy = rows.emplace_back(ReadRow{.bytes = std::string{row.bytes},
                                           .line_end = std::string{row.line_end},
                                           .fields = {},
                                           .line = row.line,
                                           .open_quote = row.open_quote,
                                           .too_long = row.too_long,
                                           .unfinished = row.unfinished});
    for (std::size_t i = 0; i < row.fields.size(); ++i) copy.fields.emplace_back(row.field(i));
  }
  return rows;
}

inline std::string joined(const std::vector<ReadRow>& rows) {
  std::string all;
  for (const auto& row : rows) all += row.bytes + row.line_end;
  return all;
}

} // namespace oxherd::daemon::logfile_test
