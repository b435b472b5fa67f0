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
    : Site{std::make_shared<const config::Settings>(std::move(settings)), calibrations, now, wall} {}

Site::Site(std::shared_ptr<const config::Settings> settings, const Calibrations& calibrations, Monotonic now,
           WallTime wall)
    : settings_{std::move(settings)}, control_{*settings_, now}, started_{now}, latest_{now} {
  for (std::size_t r = 0; r < settings_->rooms.size(); ++r) {
    const auto& room = settings_->rooms[r];
    sensors_.emplace_back(room.sensors.size());
    for (auto& sensor : sensors_.back()) sensor.awaited_since = now;
    rooms_.push_back(RoomState{resolve_ambient(*settings_, r), RoomAlarms{settings_, r, now, wall}});
    rooms_.back().gas.resize(room.sensors.size());
    rooms_.back().regime = regime_in_file(room, wall);
    rooms_.back().cell_reasons.resize(room.sensors.size());
    auto& bases = bases_.emplace_back();
    for (std::size_t s = 0; s < room.sensors.size(); ++s)
      bases.push_back(basis_of(*settings_, {r, s}, rooms_.back().ambient, calibrations));
  }
}

void Site::set_cell_reasons(SensorRef at, std::vector<alarms::Reason> reasons) {
  rooms_[at.room].cell_reasons[at.sensor] = std::move(reasons);
  rooms_[at.room].readings_hold_until.reset();
}

void Site::set_outputs_found(std::size_t room, OutputsFound found) {
  for (const auto& [output, confirmed] : found.actuators) control_.set_confirmed(output, confirmed);
  rooms_[room].outputs = std::move(found);
}

Outcome Site::take(const Poll& poll) {
  Outcome outcome;
  const auto [r, s] = poll.sensor;
  const auto& sensor = settings_->rooms[r].sensors[s];
  // The reply waited a moment for the decision thread, which may have looked at the room meanwhile: what is decided by
  // the sample is decided no earlier than that.
  const auto now = std::max(poll.at, latest_);
  const auto wall = poll.wall + (now - poll.at);
  // A delay that ended before this sample has ended, whatever the sample says: the old samples hold until now.
  refresh(r, now, wall);
  evaluate(r, false, now, wall, outcome);
  daemon::take(sensor, sensors_[r][s], poll);
  for (std::size_t i = 0; i < sensor.points.size(); ++i)
    outcome.samples.push_back(sample_record(settings_->rooms[r], sensor, i, poll, sensors_[r][s]));
  refresh_from(poll.sensor, now, wall);
  sensors_[r][s].last = reading_record(poll.sensor, now, poll.wall);
  outcome.readings.push_back(*sensors_[r][s].last);
  evaluate(r, true, now, wall, outcome);
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
  latest_ = std::max(latest_, now);
  state.ever_monitored = state.ever_monitored || state.watched.monitored;
  publish(room, state.alarms.evaluate(state.watched, new_sample, now, wall), now, wall, outcome);
  state.recalibrated = false;
  if (state.regime.broken && !state.broken_told) {
    state.broken_told = true;
    outcome.room_events.push_back(numbered(seal_broken_record(settings_->rooms[room], state.broken_by_people, wall)));
    outcome.rooms_changed.push_back(room);
  }
  if (settings_->rooms[room].entry_lock) evaluate_entry(room, now, wall, outcome);
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
    if (settings_->rooms[r].name != room) continue;
    latest_ = std::max(latest_, now);
    auto result = rooms_[r].alarms.act(alarm, act, now, wall);
    if (!result) return std::nullopt;
    Acted acted;
    acted.refusal = result->refusal;
    publish(r, {std::move(result->outcome)}, now, wall, acted.outcome);
    return acted;
  }
  return std::nullopt;
}

RoomLevel Site::level(std::size_t room, WallTime wall) const {
  const RoomState& state = rooms_[room];
  RoomLevel level;
  level.at = wall;
  level.room = settings_->rooms[room].name;
  level.coverage_factor = settings_->rooms[room].coverage_factor;
  if (const auto value = standing_value(state.watched.oxygen, alarms::Direction::low)) {
    level.oxygen = value->value;
    level.expanded_oxygen = value->expanded;
  }
  if (const auto value = standing_value(state.watched.carbon_dioxide, alarms::Direction::high))
    level.carbon_dioxide = value->value;
  return level;
}

RoomStatus Site::status(std::size_t room, Monotonic now, WallTime wall) const {
  const auto& settings = settings_->rooms[room];
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
      std::any_of(settings_->outputs.begin(), settings_->outputs.end(), [&](const config::Output& output) {
        const auto* relay = std::get_if<config::AlarmRelay>(&output.kind);
        return relay && relay->room == settings.name;
      });
  if (has_relay) status.relay_energised = relay_energised(room);
  status.actuators = actuator_statuses(control_.view(room), now, wall);
  return status;
}

void Site::set_calibration(SensorRef sensor, const std::optional<ActiveCalibration>& calibration) {
  auto& shared = bases_[sensor.room][sensor.sensor];
  if (!shared || !shared->cell) return;
  const auto identity = [](const auto& one) {
    return one ? std::pair{one->number, one->at} : std::pair<std::int64_t, std::optional<WallTime>>{-1, {}};
  };
  if (identity(shared->calibration) == identity(calibration)) return;
  ReadingBasis basis = *shared; // readings already formed keep the old one
  basis.calibration = calibration;
  shared = std::make_shared<const ReadingBasis>(std::move(basis));
  rooms_[sensor.room].recalibrated = true;
  rooms_[sensor.room].readings_hold_until.reset();
}

void Site::set_function_check(SensorRef sensor, const std::optional<std::string>& text) {
  auto& state = sensors_[sensor.room][sensor.sensor];
  ++state.changes;
  rooms_[sensor.room].readings_hold_until.reset();
  state.in_hand.reset();
  if (text) state.in_hand = alarms::Reason{alarms::Status::function_check, *text};
}

Ambient Site::ambient(std::size_t room, Monotonic now) const {
  return ambient_of(*settings_, room, rooms_[room].ambient, sensors_, now);
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
