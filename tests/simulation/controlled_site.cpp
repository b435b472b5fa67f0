#include "tests/simulation/controlled_site.hpp"

#include <algorithm>
#include <cmath>
#include <stdexcept>

#include <gtest/gtest.h>

#include "compensation/moist_air.hpp"
#include "tests/simulation/simulated_module.hpp"
#include "tests/simulation/site_reading.hpp"

namespace oxherd::simulation {
namespace {

constexpr daemon::WallTime start{
    std::chrono::milliseconds{1'772'352'000'000}}; // 2026-03-01T08:00:00Z: demo::first_hour
constexpr std::string_view annexe = "cryo-annexe"; // its probe is the site's barometer

/// Of the whole site only this room and its actuators, and the barometer: what else is there takes no part.
config::Settings settings_of(const std::string& name, std::chrono::milliseconds every) {
  auto settings = larkfield_settings(Scenario::controlled);
  std::erase_if(settings.rooms, [&](const config::Room& room) { return room.name != name && room.name != annexe; });
  for (auto& room : settings.rooms) {
    for (auto& sensor : room.sensors) sensor.every = every;
    if (room.name == name) continue;
    std::erase_if(room.sensors, [](const config::Sensor& sensor) { return sensor.name != "air"; });
    room.alarms.clear();
    room.loops.clear();
  }
  std::erase_if(settings.outputs, [&](const config::Output& output) {
    const auto* actuator = std::get_if<config::Actuator>(&output.kind);
    return actuator == nullptr || actuator->room != name;
  });
  return settings;
}

daemon::Site site_of(const ControlledSite::Options& options) {
  const auto settings = settings_of(options.room, options.every);
  return daemon::Site{settings, file_calibrations(settings), daemon::Monotonic{0}, start};
}

std::size_t index_of(const config::Settings& settings, const std::string& name) {
  for (std::size_t r = 0; r < settings.rooms.size(); ++r)
    if (settings.rooms[r].name == name) return r;
  throw std::logic_error("no room is called " + name);
}

/// What an output of the settings moves.
const demo::Channel& channel_of(const config::Output& output) {
  const auto line = output.bus == demo::name_of(demo::Line::plant) ? demo::Line::plant : demo::Line::stores;
  const auto* device = demo::find_device(line, output.unit);
  const auto at = config::written_at(output.kind);
  for (const auto& channel : demo::channels())
    if (device != nullptr && channel.module == device->name && channel.index == at.address &&
        is_register(channel.actuator) != at.is_coil)
      return channel;
  throw std::logic_error("output " + output.name + " moves nothing");
}

} // namespace

double at_work(const demo::PlantState& plant, demo::Actuator actuator) {
  using enum demo::Actuator;
  switch (actuator) {
  case vents: return plant.vents_open ? 1.0 : 0.0;
  case extract_fan: return plant.extract_fan ? 1.0 : 0.0;
  case fresh_air_valve: return plant.fresh_air_open ? 1.0 : 0.0;
  case purge_valve: return plant.purge_open ? 1.0 : 0.0;
  case carbon_dioxide_valve: return plant.carbon_dioxide_open ? 1.0 : 0.0;
  case scrubber: return plant.scrubber ? 1.0 : 0.0;
  case circulation_fan: return plant.circulation_fan ? 1.0 : 0.0;
  case heater: return plant.heater ? 1.0 : 0.0;
  case heater_valve: return plant.heater_valve;
  case chiller: return plant.chiller ? 1.0 : 0.0;
  case humidifier: return plant.humidifier ? 1.0 : 0.0;
  }
  return 0.0;
}

ControlledSite::ControlledSite(const Options& options)
    : options_{options}, world_{options.seed}, player_{world_, steps_of(options.story)}, devices_{world_},
      site_{site_of(options)}, outputs_{site_.settings()}, room_{index_of(site_.settings(), options.room)},
      interlocks_{std::chrono::duration<double>(options.every + options.beat).count()} {
  beat(); // the modules take the room over
}

daemon::Monotonic ControlledSite::now() const { return std::chrono::duration_cast<daemon::Monotonic>(world_.now()); }
daemon::WallTime ControlledSite::wall() const { return start + now(); }

void ControlledSite::keep(const daemon::Outcome& outcome) {
  lines_.insert(lines_.end(), outcome.room_events.begin(), outcome.room_events.end());
}

void ControlledSite::beat() {
  static_cast<void>(player_.advance(options_.beat));
  if ((now() - options_.beat) % options_.every < options_.beat) // from the first beat on
    for (std::size_t r = 0; r < site_.settings().rooms.size(); ++r)
      for (std::size_t s = 0; s < site_.settings().rooms[r].sensors.size(); ++s)
        keep(site_.take(poll_of(world_, site_.settings(), {r, s}, {now(), wall()})));
  keep(site_.tick(now(), wall()));
  write_outputs();
  note_switchings();
  const auto views = site_.control().view(room_);
  const auto& regime = site_.regime(room_);
  const bool sealed = regime.regime == alarms::Regime::sealed_low_oxygen && !regime.by.empty() && !opened_since_;
  for (const auto& wrong : interlocks_.look({truth(), views, sealed, lit(), seconds()})) ADD_FAILURE() << wrong;
}

void ControlledSite::write_outputs() {
  for (const auto& write : outputs_.due(site_, now(), {})) outputs_.written(carry(devices_, write, now()), now());
  static_cast<void>(devices_.tick(now()));
  auto found = outputs_.found(now());
  for (std::size_t r = 0; r < found.size(); ++r) site_.set_outputs_found(r, std::move(found[r]));
}

void ControlledSite::note_switchings() {
  opened_since_ = opened_since_ || truth().controls.door_open;
  for (const auto& output : site_.settings().outputs) {
    const auto& channel = channel_of(output);
    const double works = at_work(plant(), channel.actuator);
    auto& noted = switchings_[channel.actuator];
    if (noted.empty() || noted.back().on != (works > 0.0)) noted.push_back({seconds(), works > 0.0});
    if (world_.fault_of(channel.module) != demo::Fault::none) continue;
    EXPECT_NEAR(works, driven(output.name), 0.5e-4) << output.name << " at " << seconds() << " s";
  }
}

void ControlledSite::run(std::chrono::seconds length, const std::function<void()>& look) {
  for (const auto end = now() + length; now() < end;) {
    beat();
    if (look) look();
    if (::testing::Test::HasFailure()) return; // a day of the same failure would tell no more
  }
}

double ControlledSite::run_until(const std::function<bool()>& is_so, std::chrono::seconds at_most) {
  const double began_s = seconds();
  for (const auto end = now() + at_most; !is_so(); beat())
    if (now() >= end || ::testing::Test::HasFailure()) return NAN;
  return seconds() - began_s;
}

void ControlledSite::happen(const std::string& order) {
  const auto action = demo::parse_order(order);
  if (!action) throw std::logic_error(action.error());
  if (const auto done = world_.apply(*action); !done) throw std::logic_error(done.error());
}

std::string ControlledSite::order(const std::string& output, control::ActuatorAct act, double at,
                                  std::chrono::minutes time) {
  auto acted = site_.order(output, {act, "R. Okafor", "a trial", at, time}, now(), wall());
  if (!acted) throw std::logic_error("no actuator is called " + output);
  keep(acted->outcome);
  return acted->refusal.value_or("");
}

std::string ControlledSite::set_regime(alarms::Regime regime) {
  auto acted = site_.set_regime(options_.room, {regime, "R. Okafor", "a trial", true}, now(), wall());
  keep(acted->outcome);
  if (!acted->refusal) opened_since_ = truth().controls.door_open;
  return acted->refusal.value_or("");
}

void ControlledSite::seal() {
  EXPECT_EQ(set_regime(alarms::Regime::ventilated_before_entry), "");
  EXPECT_EQ(set_regime(alarms::Regime::sealed_low_oxygen), "");
}

void ControlledSite::acknowledge_and_reset_alarms() {
  for (const auto& alarm : site_.status(room_, now(), wall()).alarms)
    for (const auto act : {alarms::Act::acknowledge, alarms::Act::reset})
      if (const auto acted = site_.act(options_.room, alarm.alarm, {act, "R. Okafor", "looked at", {}}, now(), wall()))
        keep(acted->outcome);
}

double ControlledSite::vapour_pressure_deficit_Pa() const {
  const auto air = truth().air();
  return compensation::saturation_pressure_over_water(air.temperature)->si() * (1.0 - air.humidity.si());
}

const std::vector<ControlledSite::Switching>& ControlledSite::switchings(demo::Actuator actuator) const {
  return switchings_.at(actuator);
}

int ControlledSite::starts(demo::Actuator actuator) const {
  const auto& all = switchings(actuator);
  return static_cast<int>(std::count_if(all.begin(), all.end(), [](const Switching& one) { return one.on; }));
}

daemon::ActuatorView ControlledSite::view(const std::string& output) const {
  for (auto& one : site_.control().view(room_))
    if (one.name == output) return one;
  throw std::logic_error("no actuator is called " + output);
}

bool ControlledSite::is_blocked(const std::string& output, control::Condition condition) const {
  const auto& blocks = view(output).state->blocks;
  return std::any_of(blocks.begin(), blocks.end(), [&](const auto& block) { return block.condition == condition; });
}

std::string ControlledSite::because(const std::string& output) const { return view(output).state->because; }

double ControlledSite::set_point(const std::string& output) const { return view(output).loop->set_point().value(); }

alarms::State ControlledSite::state(const std::string& alarm) const { return site_.state_of(room_, alarm); }

std::string ControlledSite::events_of(const std::string& output) const {
  std::string events;
  for (const auto& line : lines_)
    if (line.alarm == daemon::actuator_journal_name(output)) events += (events.empty() ? "" : " ") + line.event;
  return events;
}

ShortestTimes shortest_times(const std::vector<ControlledSite::Switching>& switchings) {
  ShortestTimes shortest;
  for (std::size_t i = 1; i + 1 < switchings.size(); ++i) { // the first state began before anybody looked
    auto& time_s = switchings[i].on ? shortest.on_s : shortest.off_s;
    time_s = std::min(time_s, switchings[i + 1].at_s - switchings[i].at_s);
  }
  return shortest;
}

int most_starts_within_an_hour(const std::vector<ControlledSite::Switching>& switchings) {
  std::vector<double> starts;
  for (const auto& one : switchings)
    if (one.on) starts.push_back(one.at_s);
  std::ptrdiff_t most = 0;
  for (auto first = starts.begin(); first != starts.end(); ++first)
    most = std::max(most, std::lower_bound(first, starts.end(), *first + 3600.0) - first);
  return static_cast<int>(most);
}

} // namespace oxherd::simulation
