// How a site forms its readings from what sensors brought, and what its alarms watch.
#include <algorithm>

#include "config/measurands.hpp"
#include "daemon/room/monitoring.hpp"
#include "daemon/room/site.hpp"

namespace oxherd::daemon {
namespace {

using config::Measurand;

/// A reading whose inputs stand is formed anew no more often than this. Less than any sample's permitted age, so that a
/// sample that has just come cannot grow too old within it.
constexpr std::chrono::seconds readings_hold_at_most{1};

/// What is judged with the reading that it goes into.
bool is_of_a_gas(Measurand measurand) {
  return measurand == Measurand::oxygen || measurand == Measurand::carbon_dioxide;
}

/// How often anything became different of the sensors behind these sources: it only grows.
std::uint64_t changes_of(const AmbientSources& sources, const SensorStates& states) {
  std::uint64_t changes = 0;
  for (const auto& source : sources_of(sources))
    if (source) changes += states[source->sensor.room][source->sensor.sensor].changes;
  return changes;
}

} // namespace

GasReading Site::gas_reading(SensorRef at, const Ambient& ambient, Monotonic now, WallTime wall) const {
  const auto& sensor = settings_->rooms[at.room].sensors[at.sensor];
  const auto& state = sensors_[at.room][at.sensor];
  auto reading = judged_gas(at, ambient, now, wall);
  const auto gas = gas_of(sensor);
  const auto point = gas ? point_of(sensor, *gas) : std::nullopt;
  if (point && *point < state.channels.size()) reading.taken = state.channels[*point].at;
  const bool refused = state.error && state.error->fault == drivers::BusFault::exception;
  reading.awaited = !state.answered && !refused && now - state.awaited_since <= permitted_age(sensor.every);
  return reading;
}

GasReading Site::judged_gas(SensorRef at, const Ambient& ambient, Monotonic now, WallTime wall) const {
  const auto& sensor = settings_->rooms[at.room].sensors[at.sensor];
  const auto& state = sensors_[at.room][at.sensor];
  if (const auto point = point_of(sensor, Measurand::oxygen)) {
    auto judged = judge(sensor, state, *point, now);
    const int zeros = *point < state.channels.size() ? state.channels[*point].zeros_in_a_row : 0;
    const auto inputs = std::make_shared<const OxygenInputs>(OxygenInputs{judged.si, judged.u_si, zeros, ambient.gas,
                                                                          std::move(judged.reasons), ambient.reasons,
                                                                          other_reasons(at, now)});
    auto reading = oxygen_reading(*bases_[at.room][at.sensor], *inputs, wall);
    reading.inputs = inputs;
    reading.cell_reasons = rooms_[at.room].cell_reasons[at.sensor];
    reading.status = alarms::graver(reading.status, alarms::gravest(reading.cell_reasons));
    return reading;
  }
  const auto point = point_of(sensor, Measurand::carbon_dioxide);
  return carbon_dioxide_reading(sensor, judge(sensor, state, *point, now), ambient);
}

bool Site::readings_hold(std::size_t room, Monotonic now) const {
  const RoomState& state = rooms_[room];
  return state.readings_hold_until && now < *state.readings_hold_until &&
         state.sources_changes == changes_of(state.ambient, sensors_);
}

void Site::refresh(std::size_t room, Monotonic now, WallTime wall) {
  if (!readings_hold(room, now)) form_readings(room, now, wall);
  watch(room, now);
}

void Site::form_readings(std::size_t room, Monotonic now, WallTime wall) {
  const auto& sensors = settings_->rooms[room].sensors;
  RoomState& state = rooms_[room];
  const Ambient ambient = ambient_of(*settings_, room, state.ambient, sensors_, now);
  for (std::size_t s = 0; s < sensors.size(); ++s)
    if (gas_of(sensors[s])) state.gas[s] = gas_reading({room, s}, ambient, now, wall);
  state.voted_for.reset();
  state.sources_changes = changes_of(state.ambient, sensors_);
  // Before a sample grows too old, and before one that is awaited is overdue, nothing of this depends on the clock but
  // for what grows by the hour: drift, and the uncertainty of a lost probe.
  Monotonic until = now + readings_hold_at_most;
  const auto change_at = [&](Monotonic at) {
    if (at > now) until = std::min(until, at);
  };
  for (std::size_t s = 0; s < sensors.size(); ++s) {
    change_at(sensors_[room][s].awaited_since + permitted_age(sensors[s].every) + Monotonic{1});
    for (const auto& channel : sensors_[room][s].channels) change_at(grows_old_at(sensors[s], channel));
  }
  for (const auto& source : sources_of(state.ambient)) {
    if (!source) continue;
    const auto& [r, s] = source->sensor;
    for (const auto& channel : sensors_[r][s].channels)
      change_at(grows_old_at(settings_->rooms[r].sensors[s], channel));
  }
  state.readings_hold_until = until;
}

/// The same after a refresh at the same time, when nothing but this sensor has brought anything since: only what rests
/// on it is formed anew.
void Site::refresh_from(SensorRef at, Monotonic now, WallTime wall) {
  RoomState& state = rooms_[at.room];
  if (is_source(state.ambient, at))
    form_readings(at.room, now, wall);
  else if (gas_of(settings_->rooms[at.room].sensors[at.sensor])) {
    state.gas[at.sensor] = gas_reading(at, ambient_of(*settings_, at.room, state.ambient, sensors_, now), now, wall);
    state.voted_for.reset();
  }
  watch(at.room, now);
}

void Site::watch(std::size_t room, Monotonic now) {
  RoomState& state = rooms_[room];
  const Doors& doors = state.doors = doors_of(settings_->rooms[room], sensors_[room], now);
  if (const auto present = presence(room, now); state.voted_for != present) {
    state.voted = watch_room(settings_->rooms[room], state.gas, present);
    state.voted_for = present;
  }
  WatchedQuantities& watched = state.watched = state.voted;
  watched.door_open = doors.open;
  watched.oxygen_continuous = !state.recalibrated;
  watched.outputs = state.outputs;
  watched.control_trouble = control_.trouble(room);
  for (const auto& why : {state.alarms.unguarded(now), doors.open ? std::string{} : doors.trouble})
    if (!why.empty()) {
      watched.monitored = false;
      watched.reason = watched.reason.empty() ? why : why + "; " + watched.reason;
    }
}

std::vector<alarms::Reason> Site::other_reasons(SensorRef at, Monotonic now) const {
  const auto& sensor = settings_->rooms[at.room].sensors[at.sensor];
  std::vector<alarms::Reason> reasons;
  for (std::size_t point = 0; point < sensor.points.size(); ++point) {
    if (is_of_a_gas(sensor.points[point].measurand)) continue;
    for (const auto& reason : judge(sensor, sensors_[at.room][at.sensor], point, now).reasons)
      if (std::none_of(reasons.begin(), reasons.end(), [&](const auto& r) { return r.text == reason.text; }))
        reasons.push_back(reason);
  }
  const auto& of_cell = rooms_[at.room].cell_reasons[at.sensor];
  reasons.insert(reasons.end(), of_cell.begin(), of_cell.end());
  return reasons;
}

ReadingRecord Site::reading_record(SensorRef at, Monotonic now, WallTime wall) const {
  const auto& room = settings_->rooms[at.room];
  const auto& sensor = room.sensors[at.sensor];
  ReadingRecord record;
  record.at = wall;
  record.room = room.name;
  record.sensor = sensor.name;
  const auto take_ambient = [&](Measurand measurand, std::optional<double>& value, double& u) {
    const auto point = point_of(sensor, measurand);
    if (!point) return;
    const auto judged = judge(sensor, sensors_[at.room][at.sensor], *point, now);
    value = judged.si;
    u = judged.u_si;
  };
  record.reasons = other_reasons(at, now);
  take_ambient(Measurand::temperature, record.temperature_K, record.u_temperature_K);
  take_ambient(Measurand::humidity, record.humidity, record.u_humidity);
  take_ambient(Measurand::pressure, record.pressure_Pa, record.u_pressure_Pa);
  take_ambient(Measurand::over_pressure, record.over_pressure_Pa, record.u_over_pressure_Pa);
  for (const auto& contact : config::contacts())
    if (const auto point = point_of(sensor, contact.measurand))
      if (const auto judged = judge(sensor, sensors_[at.room][at.sensor], *point, now); judged.si)
        record.contacts.emplace_back(contact.measurand, *judged.si != 0.0);
  if (const auto& gas = rooms_[at.room].gas[at.sensor]) {
    record.oxygen = gas->oxygen;
    record.raw_V = gas->raw_V;
    record.inputs = gas->inputs;
    record.basis = bases_[at.room][at.sensor];
    if (gas->carbon_dioxide) {
      record.carbon_dioxide = gas->carbon_dioxide->value.si();
      record.u_carbon_dioxide = gas->carbon_dioxide->u_si;
    }
    record.reasons.insert(record.reasons.end(), gas->reasons.begin(), gas->reasons.end());
  }
  record.status = alarms::gravest(record.reasons);
  return record;
}

} // namespace oxherd::daemon
