#include "tests/daemon/room/annexe.hpp"

#include <stdexcept>

namespace oxherd::daemon::annexe_test {
namespace {

drivers::Point named(const char* name) {
  drivers::Point p;
  p.name = name;
  return p;
}

config::Sensor annexe_cell(char letter) {
  config::Sensor s;
  s.name = std::string{"cell-"} + letter;
  s.bus = "plant";
  s.map.points = {named("oxygen")};
  s.points = {{config::Measurand::oxygen, 0.02e-3}};
  s.map.status = {{}};
  s.status = {{alarms::Status::failure, "cell disconnected"}};
  s.cell = config::CellSettings{};
  s.cell->serial = std::string{"LK-000"} + letter;
  s.cell->nominal_zero = {millivolts(0.4), 0.05e-3};
  return s;
}

config::Sensor annexe_air() {
  config::Sensor s;
  s.name = "air";
  s.bus = "plant";
  s.map.points = {named("temperature"), named("humidity"), named("pressure")};
  s.points = {
      {config::Measurand::temperature, 0.3}, {config::Measurand::humidity, 0.03}, {config::Measurand::pressure, 50.0}};
  return s;
}

config::AlarmSettings annexe_limit(const char* name, alarms::Direction direction, double limit) {
  config::AlarmSettings a;
  a.name = name;
  a.alarm.rule = alarms::Limit{direction, limit, 0.002, std::chrono::seconds{3}, std::chrono::seconds{10}};
  a.alarm.annunciation.priority = alarms::Priority::critical;
  return a;
}

compensation::Calibration annexe_calibration() {
  compensation::Calibration c;
  c.span.signal = {millivolts(12.6), 0.02e-3};
  c.span.gas.temperature = {celsius(21.0), 0.3};
  c.span.gas.humidity = {percent_humidity(45.0), 0.03};
  c.span.gas.pressure = {pascals(99800.0), 50.0};
  c.zero = {millivolts(0.4), 0.05e-3};
  return c;
}

} // namespace

Annexe::Annexe(int cells, alarms::Scheme vote) {
  settings.site.name = "larkfield";
  settings.site.elevation = metres(212.0);
  config::Room room;
  room.name = "cryo-annexe";
  room.oxygen_vote = vote;
  for (int i = 0; i < cells; ++i) {
    room.sensors.push_back(annexe_cell(static_cast<char>('a' + i)));
    calibrations[room.name + "/" + room.sensors.back().name] = {annexe_calibration(), std::nullopt};
  }
  room.sensors.push_back(annexe_air());
  room.alarms = {annexe_limit("low-oxygen", alarms::Direction::low, 0.195),
                 annexe_limit("high-oxygen", alarms::Direction::high, 0.235)};
  config::AlarmSettings not_monitored;
  not_monitored.name = "not-monitored";
  not_monitored.quantity = config::AlarmQuantity::monitoring;
  not_monitored.alarm.rule = alarms::NotMonitored{};
  room.alarms.push_back(not_monitored);
  settings.rooms = {room};
}

void Annexe::start() { site.emplace(settings, calibrations, now, wall); }

Poll Annexe::cell_volts(std::size_t cell, double volts) const {
  Poll poll;
  poll.sensor = {0, cell};
  poll.values = {{volts * 1e3, volts, drivers::ValueFault::none}};
  poll.status = {false};
  poll.at = now;
  poll.wall = wall;
  return poll;
}

Poll Annexe::cell_poll(std::size_t cell, double dry) const {
  compensation::GasConditions gas;
  gas.temperature.value = celsius(temperature_C);
  gas.humidity.value = RelativeHumidity::from_si(humidity);
  gas.pressure.value = pascals(pressure_Pa);
  const auto signal = compensation::expected_signal({}, annexe_calibration(), DryFraction::from_si(dry), gas);
  if (!signal) throw std::runtime_error(signal.error().what);
  return cell_volts(cell, signal->si());
}

Poll Annexe::failed(std::size_t sensor, drivers::BusFault fault, int exception) const {
  Poll poll;
  poll.sensor = {0, sensor};
  poll.values.resize(settings.rooms[0].sensors[sensor].points.size());
  poll.error = drivers::BusError{fault, exception, "no reply from unit 11"};
  poll.at = now;
  poll.wall = wall;
  return poll;
}

Poll Annexe::air_poll() const {
  Poll poll;
  poll.sensor = {0, air()};
  poll.values = {{0, temperature_C + 273.15, drivers::ValueFault::none},
                 {0, humidity, drivers::ValueFault::none},
                 {0, pressure_Pa, drivers::ValueFault::none}};
  poll.at = now;
  poll.wall = wall;
  return poll;
}

Outcome Annexe::pass(std::chrono::milliseconds time) {
  now += time;
  wall += time;
  return site->tick(now, wall);
}

Outcome Annexe::second() {
  Outcome all;
  append(all, site->take(air_poll()));
  for (std::size_t c = 0; c < air(); ++c) append(all, site->take(cell_poll(c, oxygen)));
  append(all, pass(std::chrono::seconds{1}));
  return all;
}

Outcome Annexe::seconds(int n) {
  Outcome all;
  for (int i = 0; i < n; ++i) append(all, second());
  return all;
}

alarms::State Annexe::state(const std::string& alarm) const {
  for (const auto& a : site->status(0, now, wall).alarms)
    if (a.alarm == alarm) return a.state;
  throw std::runtime_error("no alarm " + alarm);
}

std::string transitions(const Outcome& outcome, const std::string& alarm) {
  std::string text;
  for (const auto& a : outcome.alarms) {
    if (a.record.alarm != alarm) continue;
    text += (text.empty() ? "" : " ") + std::string{alarms::name_of(a.record.from)} + ">" +
            std::string{alarms::name_of(a.record.to)};
  }
  return text;
}

} // namespace oxherd::daemon::annexe_test
