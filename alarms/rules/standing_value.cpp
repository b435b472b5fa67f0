#include "alarms/rules/standing_value.hpp"

#include <algorithm>
#include <vector>

namespace oxherd::alarms {

std::optional<Channel> standing_value(std::span<const Channel> channels, Direction unfavourable) {
  std::vector<Channel> usable;
  for (const auto& c : channels)
    if (c.quality != Quality::bad) usable.push_back(c);
  if (usable.empty()) return std::nullopt;
  std::sort(usable.begin(), usable.end(), [](const Channel& a, const Channel& b) { return a.value < b.value; });
  if (usable.size() >= 3) return usable[usable.size() / 2];
  return unfavourable == Direction::low ? usable.front() : usable.back();
}

} // namespace oxherd::alarms
