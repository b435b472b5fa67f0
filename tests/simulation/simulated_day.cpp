#include "tests/simulation/simulated_day.hpp"

#include <stdexcept>

#include "config/load.hpp"
#include "daemon/room/monitoring.hpp"
#include "drivers/decode.hpp"

namespace oxherd::simulation {
namespace {

constexpr daemon::WallTime midnight{std::chrono::milliseconds{1'772'323'200'000}}; // 2026-03-01T00:00:00Z

config::Settings larkfield_settings() {
  const std::string root = OXHERD_SOURCE_DIR;
  auto loaded = config::load(root + "/demo/larkfield.toml", {root + "/config/profiles"});
  if (!loaded) throw std::runtime_error(config::to_string(loaded.error().front()));
  return loaded->settings;
}

daemon::Calibrations file_calibrations(const config::Settings& settings) {
  daemon::Calibrations all;
  for (const auto& room : settings.rooms)
    for (const auto& sensor : room.sensors)
      if (sensor.calibration)
        all[room.name + "/" + sensor.name] = {sensor.calibration->calibration, sensor.calibration->at};
  return all;
}

std::vector<demo::StoryStep> steps_of(const std::string& text) {
  auto steps = demo::parse_story(text);
  if (!steps) throw std::runtime_error(steps.error().message);
  return *steps;
}

daemon::Site daemon_site() {
  const auto settings = larkfield_settings();
  return daemon::Site{settings, file_calibrations(settings), daemon::Monotonic{0}, midnight};
}

} // namespace

SimulatedDay::SimulatedDay(std::uint64_t seed, const std::string& story, std::chrono::milliseconds every,
                           std::chrono::milliseconds beat)
    : world_{seed}, player_{world_, steps_of(story)}, site_{daemon_site()}, every_{every}, beat_{beat} {}

void SimulatedDay::hold_the_air() {
  auto settings = site_.settings();
  for (auto& room : settings.rooms)
    for (auto& sensor : room.sensors)
      if (!daemon::gas_of(sensor)) sensor.every = std::chrono::hours{48};
  const auto calibrations = file_calibrations(settings);
  site_ = daemon::Site{std::move(settings), calibrations, daemon::Monotonic{0}, midnight};
  air_is_held_ = true;
}

daemon::Monotonic SimulatedDay::now() const { return std::chrono::duration_cast<daemon::Monotonic>(world_.now()); }

void SimulatedDay::run(std::chrono::seconds length) {
  const auto end = now() + length;
  while (now() < end) {
    static_cast<void>(player_.advance(beat_));
    if (now() % every_ < beat_)
      for (std::size_t r = 0; r < site_.settings().rooms.size(); ++r)
        for (std::size_t s = 0; s < site_.settings().rooms[r].sensors.size(); ++s) poll(r, s);
    keep(site_.tick(now(), midnight + now()));
  }
}

void SimulatedDay::poll(std::size_t r, std::size_t s) {
  const auto& room = site_.settings().rooms[r];
  const auto& sensor = room.sensors[s];
  if (air_is_held_ && !daemon::gas_of(sensor) && now() > every_) return;
  const std::string device = room.name + "/" + sensor.name;
  daemon::Poll poll;
  poll.sensor = {r, s};
  poll.at = now();
  poll.wall = midnight + now();
  poll.values.resize(sensor.points.size());
  poll.status.resize(sensor.status.size());
  if (world_.fault_of(device) == demo::Fault::silent) {
    poll.error = drivers::BusError{drivers::BusFault::timeout, 0, "no reply"};
  } else {
    auto words = world_.input_registers(device);
    if (words.empty()) words = {static_cast<std::uint16_t>(world_.door_closed(device) ? 1 : 0)}; // a contact
    for (std::size_t p = 0; p < sensor.map.points.size(); ++p) {
      const auto& point = sensor.map.points[p];
      const std::span<const std::uint16_t> own{words.data() + point.address,
                                               static_cast<std::size_t>(drivers::words_of(point.encoding))};
      poll.values[p] = drivers::decode(point, own);
    }
    for (std::size_t b = 0; b < sensor.map.status.size(); ++b)
      poll.status[b] = (words[sensor.map.status[b].address] & sensor.map.status[b].mask) != 0;
  }
  const auto outcome = site_.take(poll);
  keep(outcome);
  readings.insert(readings.end(), outcome.readings.begin(), outcome.readings.end());
  if (sensor.cell) oxygen.push_back({outcome.readings.front(), world_.room(room.name)->air().oxygen.si()});
}

void SimulatedDay::keep(const daemon::Outcome& outcome) {
  for (const auto& news : outcome.alarms)
    changes.push_back({std::chrono::duration<double>(world_.now()).count(), news.record});
}

} // namespace oxherd::simulation
