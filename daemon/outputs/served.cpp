#include "daemon/outputs/served.hpp"

namespace oxherd::daemon {

std::vector<std::size_t> rooms_served(const config::Settings& settings, const config::Output& output) {
  std::vector<std::size_t> rooms;
  const auto named = config::rooms_of(output.kind);
  if (named.empty())
    for (std::size_t r = 0; r < settings.rooms.size(); ++r) rooms.push_back(r);
  for (const auto& name : named)
    for (std::size_t r = 0; r < settings.rooms.size(); ++r)
      if (settings.rooms[r].name == name) rooms.push_back(r);
  return rooms;
}

} // namespace oxherd::daemon
