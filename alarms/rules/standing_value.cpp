#include "alarms/rules/standing_value.hpp"

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
  for (const auto& c : channels) { // by value, the lowest first
    if (!is_usable(c) || n == usable.size()) continue;
    std::size_t at = n++;
    for (; at > 0 && c.value < usable[at - 1].value; --at) usable[at] = usable[at - 1];
    usable[at] = c;
  }
  if (n == 0) return std::nullopt;
  if (n >= 3) return usable[n / 2];
  return unfavourable == Direction::low ? usable.front() : usable[n - 1];
}

} // namespace oxherd::alarms
