#include "daemon/cli/table.hpp"

#include <algorithm>

#include "daemon/cli/text.hpp"

namespace oxherd::daemon::cli {

std::string Table::text() const {
  std::vector<std::size_t> widths;
  for (const auto& row : rows_)
    for (std::size_t i = 0; i < row.size(); ++i) {
      if (widths.size() <= i) widths.push_back(0);
      widths[i] = std::max(widths[i], width_of(row[i]));
    }
  std::string out;
  for (const auto& row : rows_) {
    std::string line(indent_, ' ');
    for (std::size_t i = 0; i < row.size(); ++i) {
      line += row[i];
      line.append(widths[i] - width_of(row[i]) + 2, ' ');
    }
    line.erase(line.find_last_not_of(' ') + 1);
    out += line + '\n';
  }
  return out;
}

} // namespace oxherd::daemon::cli
