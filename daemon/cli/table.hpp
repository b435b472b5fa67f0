#pragma once

#include <string>
#include <vector>

namespace oxherd::daemon::cli {

/// Text in columns. Every column is as wide as its widest cell; columns are two blanks apart; no line ends in blanks.
class Table {
public:
  explicit Table(std::size_t indent = 0) : indent_{indent} {}
  /// A row may have fewer cells than others; the missing ones are empty.
  void add(std::vector<std::string> cells) { rows_.push_back(std::move(cells)); }
  [[nodiscard]] bool empty() const { return rows_.empty(); }
  [[nodiscard]] std::string text() const; ///< lines, each ended by a line break

private:
  std::size_t indent_;
  std::vector<std::vector<std::string>> rows_;
};

} // namespace oxherd::daemon::cli
