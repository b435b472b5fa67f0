#include "config/nearest.hpp"

#include <algorithm>
#include <cstddef>

namespace oxherd::config {

int edit_distance(std::string_view a, std::string_view b) {
  // Names are short; the limit keeps a pasted novel from costing minutes.
  constexpr std::size_t longest = 100;
  a = a.substr(0, longest);
  b = b.substr(0, longest);
  std::vector<std::vector<int>> d(a.size() + 1, std::vector<int>(b.size() + 1));
  for (std::size_t i = 0; i <= a.size(); ++i) d[i][0] = static_cast<int>(i);
  for (std::size_t j = 0; j <= b.size(); ++j) d[0][j] = static_cast<int>(j);
  for (std::size_t i = 1; i <= a.size(); ++i) {
    for (std::size_t j = 1; j <= b.size(); ++j) {
      const int replaced = d[i - 1][j - 1] + (a[i - 1] == b[j - 1] ? 0 : 1);
      d[i][j] = std::min({d[i - 1][j] + 1, d[i][j - 1] + 1, replaced});
      const bool swapped = i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1];
      if (swapped) d[i][j] = std::min(d[i][j], d[i - 2][j - 2] + 1);
    }
  }
  return d[a.size()][b.size()];
}

std::optional<std::string> nearest(std::string_view word, const std::vector<std::string>& known) {
  std::optional<std::string> best;
  int best_distance = std::max(1, static_cast<int>(std::min<std::size_t>(word.size(), 100) / 3)) + 1;
  for (const auto& candidate : known) {
    const int distance = edit_distance(word, candidate);
    if (distance >= best_distance) continue;
    best_distance = distance;
    best = candidate;
  }
  return best;
}

std::string listed_nearest_first(std::string_view word, std::vector<std::string> known) {
  std::stable_sort(known.begin(), known.end(), [word](const std::string& a, const std::string& b) {
    return edit_distance(word, a) < edit_distance(word, b);
  });
  return listed(known);
}

std::string listed(const std::vector<std::string>& words) {
  std::string text;
  for (std::size_t i = 0; i < words.size(); ++i) {
    if (i > 0) text += i + 1 == words.size() ? " or " : ", ";
    text += '"' + words[i] + '"';
  }
  return text;
}

} // namespace oxherd::config
