#include "daemon/room/site.hpp"

#include <algorithm>
#include <iterator>

#include <fmt/core.h>

#include "config/measurands.hpp"
#include "daemon/control/control_status.hpp"
#include "daemon/room/monitoring.hpp"

namespace oxherd::daemon {
namespace {

using config::Measurand;

SampleRecord sample_record(const config::Room& room, const config::Sensor& sensor, std::size_t point, const Poll& poll,
                           const SensorState& state) {
  SampleRecord record;
  record.at = poll.wall;
  record.room = room.name;
  record.sensor = sensor.name;
  record.measurand = config::name_of(sensor.points[point].measurand);
  const bool read = point < poll.values.size() && poll.values[point].fault != drivers::ValueFault::not_read;
  if (read) record.raw = poll.values[point].raw;
  if (read && state.channels[point].si) record.si = state.channels[point].si;
  if (!read)
    record.fault = poll.error ? poll.error->detail : "not read";
  else if (state.channels[point].fault)
    record.fault = state.channels[point].fault->text;
  record.status = record.fault.empty() ? alarms::gravest(state.status) : alarms::Status::failure;
  return record;
}

SharedBasis basis_of(const config::Settings& settings, SensorRef at, const AmbientSources& ambient,
                     const Calibrations& calibrations) {
  const auto& sensor = settings.rooms[at.room].sensors[at.sensor];
  if (!point_of(sensor, Measurand::oxygen)) return nullptr;
  ReadingBasis basis;
  basis.cell = sensor.cell;
  basis.reports_dry = sensor.reports_dry;
  const auto found = calibrations.find(name_of(settings, at));
  if (sensor.cell && found != calibrations.end()) basis.calibration = found->second;
  describe_sources(settings, at.room, ambient, basis);
  return std::make_shared<const ReadingBasis>(std::move(basis));
}

/// What is judged with the reading that it goes into.
bool is_of_a_gas(Measurand measurand) {
  return measurand == Measurand::oxygen || measurand == Measurand::carbon_dioxide;
}

} // namespace

void append(Outcome& to, Outcome from) {
  const auto add = [](auto& list, auto& more) {
    list.insert(list.end(), std::make_move_iterator(more.begin()), std::make_move_iterator(more.end()));
  };
  add(to.samples, from.samples);
  add(to.readings, from.readings);
  add(to.alarms, from.alarms);
  add(to.room_events, from.room_events);
  add(to.rooms_changed, from.rooms_changed);
}

Site::Site(config::Settings settings, const Calibrations& calibrations, Monotonic now, WallTime wall)
    : settings_{std::move(settings)}, control_{settings_, now}, started_{now} {
  for (std::size_t r = 0; r < settings_.rooms.size(); ++r) {
    const auto& room = settings_.rooms[r];
    sensors_.emplace_back(room.sensors.size());
    rooms_.push_back(RoomState{resolve_ambient(settings_, r), RoomAlarms{room, settings_.site, now, wall}});
    rooms_.back().gas.resize(room.sensors.size());
    rooms_.back().regime = regime_in_file(room, wall);
    rooms_.back().cell_reasons.resize(room.sensors.size());
    auto& bases = bases_.emplace_back();
    for (std::size_t s = 0; s < room.sensors.size(); ++s)
      bases.push_back(basis_of(settings_, {r, s}, rooms_.back().ambient, calibrations));
  }
}

void Site::set_cell_reasons(SensorRef at, std::vector<alarms::Reason> reasons) {
  rooms_[at.room].cell_reasons[at.sensor] = std::move(reasons);
}

void Site::set_outputs_found(std::size_t room, OutputsFound found) {
  for (const auto& [output, confirmed] : found.actuators) control_.set_confirmed(output, confirmed);
  rooms_[room].outputs = std::move(found);
}

GasReading Site::gas_reading(SensorRef at, const Ambient& ambient, Monotonic now, WallTime wall) const {
  const auto& sensor = settings_.rooms[at.room].sensors[at.sensor];
  const auto& state = sensors_[at.room][at.sensor];
  auto reading = judged_gas(at, ambient, now, wall);
  const auto gas = gas_of(sensor);
  const auto point = gas ? point_of(sensor, *gas) : std::nullopt;
  if (point && *point < state.channels.size()) reading.taken = state.channels[*point].at;
  const bool refused = state.error && state.error->fault == drivers::BusFault::exception;
  reading.awaited = !state.answered && !refused && now - started_ <= permitted_age(sensor.every);
  return reading;
}

GasReading Site::judged_gas(SensorRef at, const Ambient& ambient, Monotonic now, WallTime wall) const {
  const auto& sensor = settings_.rooms[at.room].sensors[at.sensor];
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

void Site::refresh(std::size_t room, Monotonic now, WallTime wall) {
  const Ambient ambient = ambient_of(settings_, room, rooms_[room].ambient, sensors_, now);
  for (std::size_t s = 0; s < settings_.rooms[room].sensors.size(); ++s)
    if (gas_of(settings_.rooms[room].sensors[s])) rooms_[room].gas[s] = gas_reading({room, s}, ambient, now, wall);
  watch(room, now);
}

/// The same after a refresh at the same time, when nothing but this sensor has brought anything since: only what rests
/// on it is formed anew.
void Site::refresh_from(SensorRef at, Monotonic now, WallTime wall) {
  if (is_source(rooms_[at.room].ambient, at)) return refresh(at.room, now, wall);
  if (gas_of(settings_.rooms[at.room].sensors[at.sensor]))
    rooms_[at.room].gas[at.sensor] =
        gas_reading(at, ambient_of(settings_, at.room, rooms_[at.room].ambient, sensors_, now), now, wall);
  watch(at.room, now);
}

void Site::watch(std::size_t room, Monotonic now) {
  const Doors& doors = rooms_[room].doors = doors_of(settings_.rooms[room], sensors_[room], started_, now);
  WatchedQuantities& watched = rooms_[room].watched =
      watch_room(settings_.rooms[room], rooms_[room].gas, presence(room, now));
  watched.door_open = doors.open;
  watched.oxygen_continuous = !rooms_[room].recalibrated;
  watched.outputs = rooms_[room].outputs;
  watched.control_trouble = control_.trouble(room);
  for (const auto& why : {rooms_[room].alarms.unguarded(now), doors.open ? std::string{} : doors.trouble})
    if (!why.empty()) {
      watched.monitored = false;
      watched.reason = watched.reason.empty() ? why : why + "; " + watched.reason;
    }
}

Outcome Site::take(const Poll& poll) {
  Outcome outcome;
  const auto [r, s] = poll.sensor;
  const auto& sensor = settings_.rooms[r].sensors[s];
  // A delay that ended before this sample has ended, whatever the sample says: the old samples hold until now.
  refresh(r, poll.at, poll.wall);
  evaluate(r, false, poll.at, poll.wall, outcome);
  daemon::take(sensor, sensors_[r][s], poll);
  for (std::size_t i = 0; i < sensor.points.size(); ++i)
    outcome.samples.push_back(sample_record(settings_.rooms[r], sensor, i, poll, sensors_[r][s]));
  refresh_from(poll.sensor, poll.at, poll.wall);
  sensors_[r][s].last = reading_record(poll.sensor, poll.at, poll.wall);
  outcome.readings.push_back(*sensors_[r][s].last);
  evaluate(r, true, poll.at, poll.wall, outcome);
  return outcome;
}

Outcome Site::tick_room(std::size_t room, Monotonic now, WallTime wall) {
  Outcome outcome;
  refresh(room, now, wall);
  evaluate(room, false, now, wall, outcome);
  return outcome;
}

Outcome Site::tick(Monotonic now, WallTime wall) {
  Outcome outcome;
  for (std::size_t r = 0; r < rooms_.size(); ++r) append(outcome, tick_room(r, now, wall));
  complete_evaluation();
  return outcome;
}

void Site::evaluate(std::size_t room, bool new_sample, Monotonic now, WallTime wall, Outcome& outcome) {
  RoomState& state = rooms_[room];
  state.ever_monitored = state.ever_monitored || state.watched.monitored;
  publish(room, state.alarms.evaluate(state.watched, new_sample, now, wall), now, wall, outcome);
  state.recalibrated = false;
  if (state.regime.broken && !state.broken_told) {
    state.broken_told = true;
    outcome.room_events.push_back(numbered(seal_broken_record(settings_.rooms[room], state.broken_by_people, wall)));
    outcome.rooms_changed.push_back(room);
  }
  if (settings_.rooms[room].entry_lock) evaluate_entry(room, now, wall, outcome);
  evaluate_control(room, now, wall, outcome);
}

void Site::publish(std::size_t room, std::vector<AlarmOutcome> changes, Monotonic now, WallTime wall,
                   Outcome& outcome) {
  RoomState& state = rooms_[room];
  const bool relay = relay_energised(room);
  const bool changed = !changes.empty() || relay != state.last_relay || state.watched.monitored != state.last_monitored;
  state.last_relay = relay;
  state.last_monitored = state.watched.monitored;
  if (changed) outcome.rooms_changed.push_back(room);
  for (auto& change : changes) {
    change.record.sequence = ++sequence_;
    outcome.alarms.push_back({std::move(change.record), state.alarms.snapshot(change.alarm, now, wall),
                              state.alarms.status(change.alarm, now)});
  }
}

std::optional<Site::Acted> Site::act(const std::string& room, const std::string& alarm, const PersonAct& act,
                                     Monotonic now, WallTime wall) {
  for (std::size_t r = 0; r < rooms_.size(); ++r) {
    if (settings_.rooms[r].name != room) continue;
    auto result = rooms_[r].alarms.act(alarm, act, now, wall);
    if (!result) return std::nullopt;
    Acted acted;
    acted.refusal = result->refusal;
    publish(r, {std::move(result->outcome)}, now, wall, acted.outcome);
    return acted;
  }
  return std::nullopt;
}

std::vector<alarms::Reason> Site::other_reasons(SensorRef at, Monotonic now) const {
  const auto& sensor = settings_.rooms[at.room].sensors[at.sensor];
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
  const auto& room = settings_.rooms[at.room];
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

RoomLevel Site::level(std::size_t room, WallTime wall) const {
  const RoomState& state = rooms_[room];
  RoomLevel level;
  level.at = wall;
  level.room = settings_.rooms[room].name;
  level.coverage_factor = settings_.rooms[room].coverage_factor;
  if (const auto value = standing_value(state.watched.oxygen, alarms::Direction::low)) {
    level.oxygen = value->value;
    level.expanded_oxygen = value->expanded;
  }
  if (const auto value = standing_value(state.watched.carbon_dioxide, alarms::Direction::high))
    level.carbon_dioxide = value->value;
  return level;
}

RoomStatus Site::status(std::size_t room, Monotonic now, WallTime wall) const {
  const auto& settings = settings_.rooms[room];
  const RoomState& state = rooms_[room];
  RoomStatus status;
  status.at = wall;
  status.room = settings.name;
  status.regime = state.regime;
  if (state.doors.any) status.door = !state.doors.open ? "unknown" : *state.doors.open ? "open" : "closed";
  if (settings.entry_lock) {
    status.entry_lock =
        EntryLockStatus{entry_withheld(room, now), state.entry_objections, {}, settings.entry_lock->hold};
    if (state.entry.fresh_since) status.entry_lock->fresh_for = now - *state.entry.fresh_since;
  }
  status.monitored = state.watched.monitored;
  status.reason = state.watched.reason;
  const auto air = level(room, wall);
  status.oxygen = air.oxygen;
  status.expanded_oxygen = air.expanded_oxygen;
  status.coverage_factor = air.coverage_factor;
  status.carbon_dioxide = air.carbon_dioxide;
  for (std::size_t s = 0; s < settings.sensors.size(); ++s) {
    const auto record = reading_record({room, s}, now, wall);
    SensorStatus sensor;
    sensor.name = settings.sensors[s].name;
    for (const auto& p : settings.sensors[s].points) sensor.measures.emplace_back(config::name_of(p.measurand));
    sensor.last = sensors_[room][s].last;
    if (sensors_[room][s].answered) sensor.age_ms = (now - *sensors_[room][s].answered).count();
    sensor.status = record.status;
    sensor.reasons = record.reasons;
    status.sensors.push_back(std::move(sensor));
  }
  for (std::size_t a = 0; a < state.alarms.size(); ++a) status.alarms.push_back(state.alarms.status(a, now));
  const bool has_relay =
      std::any_of(settings_.outputs.begin(), settings_.outputs.end(), [&](const config::Output& output) {
        const auto* relay = std::get_if<config::AlarmRelay>(&output.kind);
        return relay && relay->room == settings.name;
      });
  if (has_relay) status.relay_energised = relay_energised(room);
  status.actuators = actuator_statuses(control_.view(room), now, wall);
  return status;
}

void Site::set_calibration(SensorRef sensor, std::optional<ActiveCalibration> calibration) {
  auto& shared = bases_[sensor.room][sensor.sensor];
  if (!shared || !shared->cell) return;
  const auto identity = [](const auto& one) {
    return one ? std::pair{one->number, one->at} : std::pair<std::int64_t, std::optional<WallTime>>{-1, {}};
  };
  if (identity(shared->calibration) == identity(calibration)) return;
  ReadingBasis basis = *shared; // readings already formed keep the old one
  basis.calibration = std::move(calibration);
  shared = std::make_shared<const ReadingBasis>(std::move(basis));
  rooms_[sensor.room].recalibrated = true;
}

void Site::set_function_check(SensorRef sensor, const std::optional<std::string>& text) {
  auto& in_hand = sensors_[sensor.room][sensor.sensor].in_hand;
  in_hand.reset();
  if (text) in_hand = alarms::Reason{alarms::Status::function_check, *text};
}

Ambient Site::ambient(std::size_t room, Monotonic now) const {
  return ambient_of(settings_, room, rooms_[room].ambient, sensors_, now);
}

std::optional<double> Site::shown_value(std::size_t room, config::ShownQuantity quantity) const {
  const auto& watched = rooms_[room].watched;
  if (!watched.monitored) return std::nullopt;
  if (quantity == config::ShownQuantity::carbon_dioxide) {
    const auto value = standing_value(watched.carbon_dioxide, alarms::Direction::high);
    return value ? std::optional{value->value} : std::nullopt;
  }
  const auto value = standing_value(watched.oxygen, alarms::Direction::low);
  if (!value) return std::nullopt;
  return quantity == config::ShownQuantity::oxygen ? value->value : value->value - value->expanded;
}

bool Site::relay_energised(std::size_t room) const {
  return rooms_[room].ever_monitored && !rooms_[room].alarms.relay_dropped();
}

} // namespace oxherd::daemon
