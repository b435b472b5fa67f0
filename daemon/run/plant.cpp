#include "daemon/run/plant.hpp"

#include <algorithm>

#include "daemon/room/monitoring.hpp"

namespace oxherd::daemon {
namespace {

/// Ambient probes first: a cell that is judged before its probe has answered, with what is assumed of the air, may
/// raise an alarm that has no cause.
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
  std::stable_partition(tasks.begin(), tasks.end(), [&](const BusTask& task) {
    return !gas_of(settings.rooms[task.sensor.room].sensors[task.sensor.sensor]);
  });
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
