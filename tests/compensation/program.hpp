#pragma once

#include <cstdio>
#include <cstdlib>
#include <sstream>
#include <string>
#include <vector>

namespace oxherd::compensation::program {

/// What a shell command prints, and its exit status.
struct Output {
  std::string text;
  int status = -1;
};

inline Output run(const std::string& command) {
  Output out;
  std::FILE* pipe = popen(command.c_str(), "r");
  if (pipe == nullptr) return out;
  char buffer[65536];
  for (std::size_t n = 0; (n = std::fread(buffer, 1, sizeof buffer, pipe)) > 0;) out.text.append(buffer, n);
  out.status = pclose(pipe);
  return out;
}

/// The numbers of every line, "NaN" included. A word that is no number ends its line.
inline std::vector<std::vector<double>> rows_of(const std::string& text) {
  std::vector<std::vector<double>> rows;
  std::istringstream lines{text};
  for (std::string line; std::getline(lines, line);) {
    std::vector<double> row;
    const char* at = line.c_str();
    for (char* end = nullptr;; at = end) {
      const double value = std::strtod(at, &end);
      if (end == at) break;
      row.push_back(value);
    }
    rows.push_back(row);
  }
  return rows;
}

} // namespace oxherd::compensation::program
