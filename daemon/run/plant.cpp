#include "daemon/run/plant.hpp"

namespace oxherd::daemon {
namespace {

std::vector<BusTask> tasks_on(const config::Settings& settings, const config::Bus& bus) {
  std::vector<BusTask> tasks;
  for (std::size_t r = 0; r < settings.rooms.size(); ++r)
    for (std::size_t s = 0; s < settings.rooms[r].sensors.size(); ++s) {
      const auto& sensor = settings.rooms[r].sensors[s];
      if (sensor.bus != bus.name) continue;
      tasks.push_back({{r, s},
                       {sensor.unit, sensor.map, sensor.limits, sensor.timeout, sensor.retries},
                       {sensor.every, bus.back_off_max}});
    }
  return tasks;
}

} // namespace

Workers start_workers(const config::Settings& settings, const BusWorker::Callbacks& callbacks) {
  Workers workers;
  for (const auto& bus : settings.buses)
    workers.push_back(
        std::make_unique<BusWorker>(bus.name, drivers::make_bus(bus.address), tasks_on(settings, bus), callbacks));
  return workers;
}

} // namespace oxherd::daemon
