#include "tests/simulation/drill/simulated_bus.hpp"

#include <bit>
#include <cmath>

namespace oxherd::drill {
namespace {

using drivers::BusError;
using drivers::BusFault;

constexpr double day_s = 86400.0;
/// Of a request without an answer: two tries of 500 ms, as the settings have it.
constexpr Monotonic no_answer{1000};

BusError no_reply() { return {BusFault::timeout, 0, "no reply from the device"}; }

/// How far a rebooting device has come.
bool gives_no_value_yet(const Happening& h, Monotonic now) { return now - h.at > h.length / 2; }

} // namespace

bool SimulatedBus::befalls(const Happening& h, daemon::SensorRef at) const {
  const auto& facts = facts_of(h.kind);
  if (!facts.of_room || h.room != at.room) return false;
  if (facts.of_gas) return input_befallen(site_.rooms[at.room], h) == at.sensor;
  return !facts.of_sensor || h.sensor == at.sensor;
}

/// Of a contact, which is on while all is well, or of the carbon dioxide probe.
SimulatedBus::Words SimulatedBus::gas_words(daemon::SensorRef at, Monotonic now,
                                            std::span<const Happening* const> active) const {
  const auto& room = site_.rooms[at.room];
  const auto& truth = *gas[at.room];
  Lie lie = Lie::none;
  for (const auto* h : active)
    if (befalls(*h, at)) lie = lie_of(*h);
  if (at.sensor == room.carbon_dioxide_at()) {
    const double scatter = noise(seed_, 20000 + at.room, static_cast<std::uint64_t>(now.count()));
    double ppm = 1e6 * truth.carbon_dioxide() + 20.0 * scatter;
    if (lie == Lie::reassures) ppm = 500.0 + 20.0 * scatter;
    if (lie == Lie::alarms) ppm = 4000.0 + 20.0 * scatter;
    return {static_cast<std::uint16_t>(std::lround(std::clamp(ppm, 0.0, 60000.0)))};
  }
  bool well = at.sensor == room.door_at() ? !truth.door_open : !truth.people_in;
  if (lie == Lie::reassures || lie == Lie::alarms) well = lie == Lie::reassures;
  return {static_cast<std::uint16_t>(well ? 1 : 0)};
}

/// 0 to below 1, for this poll alone.
double SimulatedBus::spoilt(const Happening& happening, daemon::SensorRef at, Monotonic now) const {
  return 0.5 + 0.5 * noise(happening.salt, 100 * at.room + at.sensor, static_cast<std::uint64_t>(now.count()));
}

SimulatedBus::Words SimulatedBus::true_words(daemon::SensorRef at, const TrueAir& air, Monotonic now,
                                             std::span<const Happening* const> active) const {
  const auto& room = site_.rooms[at.room];
  if (at.sensor >= room.sensors()) return gas_words(at, now, active);
  const double t_s = alarms::seconds_of(now);
  const auto ambient = ambient_at(site_, at.room, seed_, t_s);
  const auto flicker = [&](std::uint64_t which) {
    return noise(seed_, 10000 + 100 * at.room + 10 * at.sensor + which, static_cast<std::uint64_t>(now.count()));
  };
  if (at.sensor == room.probe_at()) {
    const auto tenths = [](double value) {
      return static_cast<std::uint16_t>(static_cast<std::int16_t>(std::lround(10.0 * value)));
    };
    const auto wide = [](double value) { return static_cast<std::uint16_t>(std::lround(10.0 * value)); };
    const auto& probe = room.probe;
    return {tenths(ambient.temperature_C + probe.temperature_error_K + 0.08 * flicker(0)),
            wide(100.0 * std::clamp(ambient.humidity + probe.humidity_error + 0.004 * flicker(1), 0.0, 1.0)),
            wide((ambient.pressure_Pa + probe.pressure_error_Pa + 8.0 * flicker(2)) / 100.0)};
  }
  const auto& cell = room.cells[at.sensor];
  double mV = signal_mV(cell, air.at_cell(at.sensor), ambient, t_s);
  std::uint16_t status = 0;
  for (const auto* h : active) {
    if (!befalls(*h, at)) continue;
    if (h->kind == Kind::worn_cell)
      mV = cell.zero_mV + (mV - cell.zero_mV) * std::exp(-h->size * alarms::seconds_of(now - h->at) / (10.0 * day_s));
    if (h->kind == Kind::cell_disconnected) {
      status = 1;
      mV = 0.05 * flicker(5);
    }
  }
  const auto bits = std::bit_cast<std::uint32_t>(static_cast<float>(mV + cell.noise_mV * flicker(4)));
  return {static_cast<std::uint16_t>(bits >> 16U), static_cast<std::uint16_t>(bits), status};
}

void SimulatedBus::decode(daemon::SensorRef at, const Words& words, daemon::Poll& poll) const {
  const auto& sensor = settings_.rooms[at.room].sensors[at.sensor];
  for (std::size_t p = 0; p < sensor.map.points.size(); ++p) {
    const auto& point = sensor.map.points[p];
    poll.values[p] = drivers::decode(
        point, std::span{words}.subspan(point.address, static_cast<std::size_t>(drivers::words_of(point.encoding))));
  }
  for (std::size_t b = 0; b < sensor.map.status.size(); ++b)
    poll.status[b] = (words[sensor.map.status[b].address] & sensor.map.status[b].mask) != 0;
}

std::optional<SimulatedBus::Brought> SimulatedBus::poll(daemon::SensorRef at, const TrueAir& air, Monotonic now,
                                                        std::span<const Happening* const> active) {
  const auto& sensor = settings_.rooms[at.room].sensors[at.sensor];
  Brought brought;
  auto& poll = brought.poll;
  poll.sensor = at;
  poll.values.resize(sensor.map.points.size());
  poll.status.resize(sensor.map.status.size());
  const auto held = held_.find({at.room, at.sensor});
  Words words = true_words(at, air, now, active);
  bool is_stuck = false, no_value = false, is_refused = false;
  for (const auto* h : active) {
    if (!befalls(*h, at)) continue;
    const double chance = spoilt(*h, at, now);
    switch (h->kind) {
    case Kind::sensor_silent:
    case Kind::contact_silent:
    case Kind::gateway_silent: poll.error = no_reply(); break;
    case Kind::bus_out:
      poll.error = no_reply();
      is_refused = chance < 0.5; // the line says at once that nobody is there
      break;
    case Kind::thread_stuck: return std::nullopt;
    case Kind::reboot:
      no_value = gives_no_value_yet(*h, now);
      if (!no_value) poll.error = no_reply();
      break;
    case Kind::exceptions:
      if (chance < 0.3 + 0.7 * h->size)
        poll.error = BusError{BusFault::exception,
                              1 + static_cast<int>(mixed(h->salt ^ static_cast<std::uint64_t>(now.count())) % 6),
                              "the device refuses"};
      break;
    case Kind::late_replies:
      if (chance < 0.2) poll.error = no_reply();
      brought.took = std::max(brought.took, Monotonic{static_cast<std::int64_t>(4000.0 * h->size * chance)});
      break;
    case Kind::bit_errors:
      if (chance < 0.3) {
        const auto which = mixed(h->salt ^ static_cast<std::uint64_t>(now.count()));
        words[which % (at.sensor == site_.rooms[at.room].probe_at() ? 3U : 2U)] ^=
            static_cast<std::uint16_t>(1U << (which >> 32U) % 16U);
      }
      break;
    case Kind::contact_lies:
      if (lie_of(*h) != Lie::sticks) break;
      [[fallthrough]];
    case Kind::stuck:
      is_stuck = true;
      if (held != held_.end()) words = held->second;
      break;
    default: break; // it befalls no device
    }
  }
  if (!is_stuck && held != held_.end()) held_.erase(held);
  if (is_stuck && !poll.error) held_.try_emplace({at.room, at.sensor}, words);
  brought.answered = !poll.error || poll.error->line_in_step();
  if (!brought.answered && !is_refused) brought.took = std::max(brought.took, no_answer);
  if (poll.error) return brought;
  decode(at, words, poll);
  if (no_value)
    for (auto& value : poll.values) value.fault = drivers::ValueFault::bad_value;
  return brought;
}

} // namespace oxherd::drill
