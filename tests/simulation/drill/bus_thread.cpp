#include "tests/simulation/drill/bus_thread.hpp"

#include <algorithm>

#include "daemon/room/monitoring.hpp"

namespace oxherd::drill {
namespace {

using namespace std::chrono_literals;

std::chrono::milliseconds back_off_on(const config::Settings& settings, const std::string& name) {
  for (const auto& bus : settings.buses)
    if (bus.name == name) return bus.back_off_max;
  return drivers::Schedule{}.back_off_max;
}

} // namespace

BusThread::BusThread(const config::Settings& settings, std::size_t room) {
  const auto& sensors = settings.rooms[room].sensors;
  for (std::size_t s = 0; s < sensors.size(); ++s) sensors_.push_back({room, s});
  std::stable_partition(sensors_.begin(), sensors_.end(),
                        [&](const daemon::SensorRef& at) { return !daemon::gas_of(sensors[at.sensor]); });
  for (const auto& at : sensors_)
    schedules_.push_back({sensors[at.sensor].every, back_off_on(settings, sensors[at.sensor].bus)});
}

void BusThread::start(Monotonic now) {
  states_ = drivers::at_start(schedules_, now);
  first_round_ = 0;
  busy_until_ = now;
}

Monotonic BusThread::due() const {
  return std::max(busy_until_, states_[drivers::next_due(states_, first_round_)].due);
}

void BusThread::asked(bool answered, Monotonic now, Monotonic took) {
  const auto i = drivers::next_due(states_, first_round_);
  busy_until_ = now + took;
  if (first_round_ < states_.size()) ++first_round_;
  states_[i] = drivers::after_poll(schedules_[i], states_[i], answered, busy_until_);
}

void BusThread::hangs(Monotonic now) { busy_until_ = now + 1s; }

} // namespace oxherd::drill
