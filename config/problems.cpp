#include "config/problems.hpp"

#include <algorithm>
#include <tuple>
#include <utility>

#include <fmt/core.h>

namespace oxherd::config {

void Problems::error(Position at, std::string key, std::string message) {
  problems_.push_back({Severity::error, file_, at.line, at.column, std::move(key), std::move(message)});
}

void Problems::warning(Position at, std::string key, std::string message) {
  problems_.push_back({Severity::warning, file_, at.line, at.column, std::move(key), std::move(message)});
}

void Problems::include(const Problems& other) {
  problems_.insert(problems_.end(), other.problems_.begin(), other.problems_.end());
}

bool Problems::has_errors() const {
  return std::any_of(problems_.begin(), problems_.end(),
                     [](const Problem& p) { return p.severity == Severity::error; });
}

bool Problems::has_error_under(std::string_view key) const {
  return std::any_of(problems_.begin(), problems_.end(), [&](const Problem& p) {
    if (p.severity != Severity::error || p.file != file_ || !p.key.starts_with(key)) return false;
    return p.key.size() == key.size() || p.key[key.size()] == '.' || p.key[key.size()] == '[';
  });
}

std::vector<Problem> Problems::sorted() const {
  std::vector<Problem> all = problems_;
  std::stable_sort(all.begin(), all.end(), [this](const Problem& a, const Problem& b) {
    const bool a_elsewhere = a.file != file_;
    const bool b_elsewhere = b.file != file_;
    return std::tie(a_elsewhere, a.file, a.line, a.column) < std::tie(b_elsewhere, b.file, b.line, b.column);
  });
  return all;
}

std::string to_string(const Problem& problem) {
  std::string text = problem.file;
  if (problem.line > 0) text += fmt::format(":{}:{}", problem.line, problem.column);
  if (!problem.key.empty()) text += ": " + problem.key;
  text += problem.severity == Severity::warning ? ": warning: " : ": ";
  text += problem.message;
  // Values and keys are quoted from the file: a line break in one must not forge a second line of output.
  std::replace_if(
      text.begin(), text.end(), [](char c) { return static_cast<unsigned char>(c) < 0x20; }, '?');
  return text;
}

} // namespace oxherd::config
