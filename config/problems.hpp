#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "config/load.hpp"

namespace oxherd::config {

/// A place in a file: 1-based, columns count characters. 0:0 stands for the file as a whole.
struct Position {
  int line = 0;
  int column = 0;
  friend auto operator<=>(const Position&, const Position&) = default;
};

/// Collects what is wrong in one file, so that a person sees everything at once.
class Problems {
public:
  explicit Problems(std::string file) : file_{std::move(file)} {}
  void error(Position at, std::string key, std::string message);
  void warning(Position at, std::string key, std::string message);
  /// Takes over the problems of another file (a profile); they are listed after those of this file.
  void include(const Problems& other);

  [[nodiscard]] const std::string& file() const { return file_; }
  [[nodiscard]] bool has_errors() const;
  /// Whether an error stands at this dotted key or below it; what rests on that value need not be judged as well.
  [[nodiscard]] bool has_error_under(std::string_view key) const;
  /// All of them, by line and column; those of this file first.
  [[nodiscard]] std::vector<Problem> sorted() const;

private:
  std::string file_;
  std::vector<Problem> problems_;
};

} // namespace oxherd::config
