#include "alarms/rules/standing_value.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace oxherd::alarms {

bool is_usable(const Channel& channel) {
  return channel.quality != Quality::bad && std::isfinite(channel.value) && std::isfinite(channel.expanded) &&
         channel.expanded >= 0.0;
}

std::optional<Channel> standing_value(std::span<const Channel> channels, Direction unfavourable) {
  std::array<Channel, channels_max> usable{};
  std::size_t n = 0;
  for (const auto& c : channels)
    if (is_usable(c) && n < usable.size()) usable[n++] = c;
  if (n == 0) return std::nullopt;
  const auto end = usable.begin() + static_cast<std::ptrdiff_t>(n);
  std::sort(usable.begin(), end, [](const Channel& a, const Channel& b) { return a.value < b.value; });
  if (n >= 3) return usable[n / 2];
  return unfavourable == Direction::low ? usable.front() : usable[n - 1];
}

} // namespace oxherd::alarms
