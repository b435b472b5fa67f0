#include "daemon/outputs/dropped.hpp"

#include <algorithm>

#include <fmt/core.h>

namespace oxherd::daemon {
namespace {

bool lead_to_same_place(const drivers::BusAddress& a, const drivers::BusAddress& b) {
  if (const auto* tcp = std::get_if<drivers::TcpAddress>(&a)) {
    const auto* other = std::get_if<drivers::TcpAddress>(&b);
    return other != nullptr && tcp->host == other->host && tcp->port == other->port;
  }
  const auto* other = std::get_if<drivers::SerialLine>(&b);
  return other != nullptr && std::get<drivers::SerialLine>(a).device == other->device;
}

/// The bus of the next settings that leads where this one led.
const config::Bus* successor_of(const std::string& bus, const config::Settings& before, const config::Settings& next) {
  const auto old = std::find_if(before.buses.begin(), before.buses.end(), [&](const auto& b) { return b.name == bus; });
  if (old == before.buses.end()) return nullptr;
  const auto found = std::find_if(next.buses.begin(), next.buses.end(),
                                  [&](const auto& b) { return lead_to_same_place(b.address, old->address); });
  return found == next.buses.end() ? nullptr : &*found;
}

} // namespace

bool took_drop(const WriteResult& result) { return !result.error && result.value == 0; }

std::vector<GivenUp> given_up(const config::Settings& before, const config::Settings& next) {
  std::vector<GivenUp> all;
  for (const auto& output : before.outputs) {
    if (!config::is_on_when_well(output.kind)) continue;
    const auto at = config::written_at(output.kind);
    const auto* bus = successor_of(output.bus, before, next);
    const bool is_written =
        bus != nullptr && std::any_of(next.outputs.begin(), next.outputs.end(), [&](const config::Output& other) {
          const auto* others = successor_of(other.bus, next, next);
          return others == bus && other.unit == output.unit && config::written_at(other.kind) == at;
        });
    if (is_written) continue;
    GivenUp one{
        fmt::format("output {} (coil {} of unit {} on bus \"{}\")", output.name, at.address, output.unit, output.bus),
        {},
        {next.outputs.size() + all.size(), output.unit, true, at.address, 0}};
    if (bus != nullptr) {
      one.bus = bus->name;
      one.drop.timeout = bus->timeout;
    }
    all.push_back(std::move(one));
  }
  return all;
}

std::string to_string(const GivenUp& output) {
  return output.what + " is no longer in the settings: " +
         (output.bus ? "it is dropped now, and nothing drives it from now on"
                     : "its bus is gone as well, nobody drops it any more and it may stay energised; switch it off at "
                       "its module");
}

} // namespace oxherd::daemon
