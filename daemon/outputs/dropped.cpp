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

/// By the file alone: what persons have said of the room since is not known to a reload of the outputs.
bool people_may_be_in(const config::Settings& settings, const config::OutputKind& kind) {
  const auto rooms = config::rooms_of(kind);
  const auto* room = rooms.empty() ? nullptr : config::room_named(settings.rooms, rooms.front());
  return room == nullptr || room->regime != config::Regime::sealed_low_oxygen;
}

} // namespace

bool took_drop(const WriteResult& result, OutputValue left_holding) {
  return !result.error && result.value == left_holding;
}

std::vector<GivenUp> given_up(const config::Settings& before, const config::Settings& next) {
  std::vector<GivenUp> all;
  for (const auto& output : before.outputs) {
    const auto left_holding = config::value_at_rest(output.kind, people_may_be_in(before, output.kind));
    if (!left_holding) continue;
    const auto at = config::written_at(output.kind);
    const auto* bus = successor_of(output.bus, before, next);
    const bool is_written =
        bus != nullptr && std::any_of(next.outputs.begin(), next.outputs.end(), [&](const config::Output& other) {
          const auto* others = successor_of(other.bus, next, next);
          return others == bus && other.unit == output.unit && config::written_at(other.kind) == at;
        });
    if (is_written) continue;
    GivenUp one{fmt::format("output {} ({} {} of unit {} on bus \"{}\")", output.name, at.is_coil ? "coil" : "register",
                            at.address, output.unit, output.bus),
                {},
                {next.outputs.size() + all.size(), output.unit, at.is_coil, at.address, *left_holding}};
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
