#include "tests/simulation/simulated_day.hpp"

#include "daemon/room/monitoring.hpp"
#include "tests/simulation/site_reading.hpp"

namespace oxherd::simulation {
namespace {

constexpr daemon::WallTime midnight{std::chrono::milliseconds{1'772'323'200'000}}; // 2026-03-01T00:00:00Z

daemon::Site daemon_site() {
  const auto settings = larkfield_settings(Scenario::watched);
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
  const auto outcome = site_.take(poll_of(world_, site_.settings(), {r, s}, {now(), midnight + now()}));
  keep(outcome);
  readings.insert(readings.end(), outcome.readings.begin(), outcome.readings.end());
  if (sensor.cell) oxygen.push_back({outcome.readings.front(), world_.room(room.name)->air().oxygen.si()});
}

void SimulatedDay::keep(const daemon::Outcome& outcome) {
  for (const auto& news : outcome.alarms)
    changes.push_back({std::chrono::duration<double>(world_.now()).count(), news.record});
}

} // namespace oxherd::simulation
