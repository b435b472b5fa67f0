#include "daemon/outputs/wanted.hpp"

#include <algorithm>
#include <bit>
#include <cmath>
#include <limits>

#include "alarms/patterns.hpp"

namespace oxherd::daemon {
namespace {

std::vector<alarms::Announced> announced_in(const std::vector<std::size_t>& rooms, const Site& site, Monotonic now) {
  std::vector<alarms::Announced> all;
  for (const auto room : rooms) {
    const auto of_room = site.announced(room, now);
    all.insert(all.end(), of_room.begin(), of_room.end());
  }
  return all;
}

/// A coil is switched in the pattern; a register takes its number.
template <class Pattern> OutputValue shown_as(const config::WrittenAt& at, Pattern pattern, Monotonic now) {
  if (at.is_coil) return alarms::is_on(pattern, now) ? 1 : 0;
  return static_cast<OutputValue>(pattern);
}

struct Wanted {
  const std::vector<std::size_t>& rooms;
  const Site& site;
  Monotonic now;

  OutputValue operator()(const config::AlarmRelay&) const {
    return !rooms.empty() && site.relay_energised(rooms.front()) ? 1 : 0; // anything unclear trips
  }
  OutputValue operator()(const config::Heartbeat&) const {
    return static_cast<std::uint16_t>(site.evaluations() & 0xFFFFU);
  }
  OutputValue operator()(const config::Sounder& sounder) const {
    return shown_as(sounder.at, alarms::sound_of(announced_in(rooms, site, now)), now);
  }
  OutputValue operator()(const config::Beacon& beacon) const {
    return shown_as(beacon.at, alarms::light_of(announced_in(rooms, site, now)), now);
  }
  OutputValue operator()(const config::RoomReading& reading) const {
    const auto value = rooms.empty() ? std::nullopt : site.shown_value(rooms.front(), reading.quantity);
    if (reading.is_float) {
      const double per_ratio = reading.quantity == config::ShownQuantity::carbon_dioxide ? 1e6 : 1e2;
      return as_float32(value ? *value * per_ratio : std::numeric_limits<double>::quiet_NaN(), reading.order);
    }
    return value ? scaled(*value, reading.from, reading.to) : reading.when_bad;
  }
  OutputValue operator()(const config::EntryLockRelay&) const {
    return !rooms.empty() && !site.entry_withheld(rooms.front(), now) ? 1 : 0; // anything unclear withholds
  }
  OutputValue operator()(const config::Actuator& actuator) const { return site.value_of(actuator); }
  OutputValue operator()(const config::AlarmStateNumber& number) const {
    if (rooms.empty()) return static_cast<std::uint16_t>(alarms::State::unacknowledged);
    const auto state = number.alarm ? site.state_of(rooms.front(), *number.alarm)
                                    : alarms::most_urgent(site.announced(rooms.front(), now)).state;
    return static_cast<std::uint16_t>(state);
  }
};

} // namespace

OutputValue wanted(const config::OutputKind& kind, const std::vector<std::size_t>& rooms, const Site& site,
                   Monotonic now) {
  return std::visit(Wanted{rooms, site, now}, kind);
}

config::OutputKind by_pattern(config::OutputKind kind) {
  if (auto* sounder = std::get_if<config::Sounder>(&kind)) sounder->at.is_coil = false;
  if (auto* beacon = std::get_if<config::Beacon>(&kind)) beacon->at.is_coil = false;
  return kind;
}

OutputValue in_step(const config::OutputKind& kind, OutputValue by_pattern, Monotonic now) {
  if (const auto* sounder = std::get_if<config::Sounder>(&kind))
    return shown_as(sounder->at, static_cast<alarms::Sound>(by_pattern), now);
  if (const auto* beacon = std::get_if<config::Beacon>(&kind))
    return shown_as(beacon->at, static_cast<alarms::Light>(by_pattern), now);
  return by_pattern;
}

OutputValue wanted_to_warn(const config::OutputKind& kind, Monotonic now, bool has_contact) {
  if (const auto* sounder = std::get_if<config::Sounder>(&kind))
    return shown_as(sounder->at, alarms::Sound::continuous, now);
  if (const auto* beacon = std::get_if<config::Beacon>(&kind))
    return shown_as(beacon->at, has_contact ? alarms::Light::steady : alarms::Light::fast_flash, now);
  return 0; // a relay warns by dropping
}

bool warns(const config::OutputKind& kind, const std::vector<std::size_t>& rooms, const Site& site, Monotonic now) {
  if (std::holds_alternative<config::Sounder>(kind))
    return alarms::sound_of(announced_in(rooms, site, now)) != alarms::Sound::off;
  if (std::holds_alternative<config::Beacon>(kind))
    return alarms::light_of(announced_in(rooms, site, now)) != alarms::Light::off;
  return std::holds_alternative<config::AlarmRelay>(kind) && wanted(kind, rooms, site, now) == 0;
}

bool is_prompt(const config::OutputKind& kind) {
  return !std::holds_alternative<config::Heartbeat>(kind) && !std::holds_alternative<config::RoomReading>(kind);
}

OutputValue as_float32(double number, drivers::ByteOrder order) {
  using drivers::ByteOrder;
  auto bits = std::bit_cast<OutputValue>(static_cast<float>(number));
  const bool swap_words = order == ByteOrder::cdab || order == ByteOrder::dcba;
  const bool swap_bytes = order == ByteOrder::badc || order == ByteOrder::dcba;
  if (swap_words) bits = bits >> 16U | bits << 16U;
  if (swap_bytes) bits = (bits & 0xFF00FF00U) >> 8U | (bits & 0x00FF00FFU) << 8U;
  return bits;
}

std::uint16_t scaled(double value, double from, double to) {
  const double share = (value - from) / (to - from);
  return static_cast<std::uint16_t>(std::lround(std::clamp(share, 0.0, 1.0) * 65535.0));
}

} // namespace oxherd::daemon
