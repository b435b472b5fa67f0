#include "demo/site.hpp"

#include <algorithm>
#include <stdexcept>

namespace oxherd::demo {
namespace {

constexpr std::chrono::microseconds step_length = std::chrono::seconds{1};
constexpr double step_s = 1.0;

/// An independent stream for each part, so that a new instrument leaves the noise of the others as it was.
Noise stream(std::uint64_t seed, std::uint64_t part) { return Noise{seed * 0x9E3779B97F4A7C15u + part}; }

/// Gas from a cylinder is dry, and has the temperature and pressure of the room that it flows into.
TrueAir from_cylinder(const TrueAir& room, double oxygen) {
  TrueAir gas = room;
  gas.oxygen = DryFraction::from_si(oxygen);
  gas.carbon_dioxide = DryFraction::from_si(0.0);
  gas.humidity = RelativeHumidity::from_si(0.0);
  gas.vapour_fraction = 0.0;
  return gas;
}

std::vector<std::uint16_t> words_of(const std::monostate&, Fault) { return {}; }
std::vector<std::uint16_t> words_of(const SimulatedCell& cell, Fault fault) { return registers_of(cell, fault); }
std::vector<std::uint16_t> words_of(const SimulatedProbe& probe, Fault) { return registers_of(probe); }
std::vector<std::uint16_t> words_of(const SimulatedCarbonDioxide& probe, Fault) { return registers_of(probe); }
std::vector<std::uint16_t> words_of(const SimulatedOverPressure& probe, Fault) { return registers_of(probe); }

/// Whether the circuit of a contact of this kind would be closed in this room.
bool circuit_closed(DeviceKind kind, const Room& room, double now_s) {
  switch (kind) {
  case DeviceKind::contact: return !room.controls.door_open;
  case DeviceKind::occupancy: return room.controls.people <= 0.0;
  case DeviceKind::lights: return light(now_s) > 0.0;
  case DeviceKind::air_flow: return room.air_circulates();
  case DeviceKind::relief_valve: return !room.controls.relief_isolated;
  case DeviceKind::cell:
  case DeviceKind::probe:
  case DeviceKind::co2:
  case DeviceKind::outputs:
  case DeviceKind::over_pressure: break;
  }
  return false; // no contact
}

} // namespace

Site::Site(std::uint64_t seed) : weather_{stream(seed, 1)} {
  for (const auto& facts : room_facts()) rooms_.emplace_back(facts, weather_);
  std::uint64_t part = 100;
  for (const auto& facts : device_facts()) {
    Instrument made{&facts, std::monostate{}};
    const Room* in = room(facts.room);
    const Noise noise = stream(seed, part++);
    switch (facts.kind) {
    case DeviceKind::cell: made.works = SimulatedCell{*facts.cell, in->air(), noise}; break;
    case DeviceKind::probe: made.works = SimulatedProbe{facts.has_barometer, in->air(), noise}; break;
    case DeviceKind::co2: made.works = SimulatedCarbonDioxide{in->air(), noise}; break;
    case DeviceKind::over_pressure: made.works = SimulatedOverPressure{noise}; break;
    case DeviceKind::contact:
    case DeviceKind::occupancy:
    case DeviceKind::lights:
    case DeviceKind::air_flow:
    case DeviceKind::relief_valve:
    case DeviceKind::outputs: break;
    }
    instruments_.push_back(std::move(made));
  }
}

void Site::advance(std::chrono::microseconds dt) {
  now_ += dt;
  const auto due = now_ / step_length;
  while (steps_ < due) step();
}

double Site::stepped_s() const { return static_cast<double>(steps_) * step_s; }

void Site::step() {
  ++steps_;
  const double now_s = stepped_s();
  weather_.advance(now_s, step_s);
  for (auto& each : rooms_) each.advance(weather_, now_s, step_s);
  for (auto& each : instruments_) {
    const Room* in = room(each.facts->room);
    if (in == nullptr) continue;
    const TrueAir air = in->air();
    if (auto* oxygen = std::get_if<SimulatedCell>(&each.works))
      oxygen->advance(each.cylinder_oxygen ? from_cylinder(air, *each.cylinder_oxygen) : air, step_s);
    if (auto* probe = std::get_if<SimulatedProbe>(&each.works)) probe->advance(air, step_s);
    if (auto* co2 = std::get_if<SimulatedCarbonDioxide>(&each.works)) co2->advance(air, step_s);
    if (auto* pressure = std::get_if<SimulatedOverPressure>(&each.works)) pressure->advance(in->over_pressure_Pa());
  }
}

const Room* Site::room(std::string_view name) const {
  const auto found = std::ranges::find_if(rooms_, [&](const Room& each) { return each.facts().name == name; });
  return found == rooms_.end() ? nullptr : &*found;
}

const Site::Instrument* Site::find(std::string_view device) const {
  const auto found =
      std::ranges::find_if(instruments_, [&](const Instrument& each) { return each.facts->name == device; });
  return found == instruments_.end() ? nullptr : &*found;
}

Site::Instrument* Site::find(std::string_view device) {
  const auto found =
      std::ranges::find_if(instruments_, [&](const Instrument& each) { return each.facts->name == device; });
  return found == instruments_.end() ? nullptr : &*found;
}

const SimulatedCell* Site::cell(std::string_view device) const {
  const Instrument* found = find(device);
  return found == nullptr ? nullptr : std::get_if<SimulatedCell>(&found->works);
}

std::vector<std::uint16_t> Site::input_registers(std::string_view device) const {
  const Instrument* found = find(device);
  if (found == nullptr) return {};
  if (found->fault == Fault::stuck) return found->frozen; // nothing for a contact, which has no register
  return std::visit([&](const auto& works) { return words_of(works, found->fault); }, found->works);
}

bool Site::contact_closed(std::string_view device) const {
  const Instrument* found = find(device);
  const Room* in = found == nullptr ? nullptr : room(found->facts->room);
  if (in == nullptr || found->fault == Fault::disconnected) return false;
  return found->fault == Fault::stuck ? found->frozen_closed : circuit_closed(found->facts->kind, *in, stepped_s());
}

void Site::drive(std::string_view room, const PlantState& plant) {
  const auto found = std::ranges::find_if(rooms_, [&](const Room& each) { return each.facts().name == room; });
  if (found == rooms_.end()) throw std::logic_error("no room is called \"" + std::string{room} + "\"");
  found->drive(plant);
}

Fault Site::fault_of(std::string_view device) const {
  const Instrument* found = find(device);
  return found == nullptr ? Fault::none : found->fault;
}

tl::expected<void, std::string> Site::apply(const Action& action) {
  const double now_s = std::chrono::duration<double>(now_).count();
  switch (action.verb) {
  case Verb::say: return {};
  case Verb::barometer: weather_.station_hPa.go(action.value, now_s, action.over_s); return {};
  case Verb::outdoor_temperature: weather_.mean_temperature_C.go(action.value, now_s, action.over_s); return {};
  case Verb::outdoor_humidity: weather_.humidity_percent.go(action.value, now_s, action.over_s); return {};
  case Verb::fault: return apply_fault(action);
  case Verb::gas:
  case Verb::no_gas: return apply_gas(action);
  case Verb::temperature:
  case Verb::humidity:
  case Verb::ventilation:
  case Verb::leak:
  case Verb::purge:
  case Verb::dosing:
  case Verb::people:
  case Verb::door:
  case Verb::relief_isolated: return apply_to_room(action);
  }
  return tl::unexpected(std::string{"unknown verb"});
}

tl::expected<void, std::string> Site::apply_fault(const Action& action) {
  Instrument* found = find(action.target);
  if (found == nullptr) return tl::unexpected("no device is called \"" + action.target + "\"");
  const bool is_cell = std::holds_alternative<SimulatedCell>(found->works);
  if ((action.fault == Fault::worn || action.fault == Fault::dead) && !is_cell)
    return tl::unexpected("\"" + action.target + "\" is not an oxygen cell");
  if (action.fault == Fault::disconnected && !is_cell && !is_contact(found->facts->kind))
    return tl::unexpected("\"" + action.target + "\" is neither an oxygen cell nor a contact");
  if (action.fault == Fault::stuck) {
    found->frozen_closed = contact_closed(action.target);
    found->frozen = input_registers(action.target);
  }
  found->fault = action.fault;
  return {};
}

tl::expected<void, std::string> Site::apply_gas(const Action& action) {
  Instrument* found = find(action.target);
  if (found == nullptr || !std::holds_alternative<SimulatedCell>(found->works))
    return tl::unexpected("no oxygen cell is called \"" + action.target + "\"");
  const bool is_percent = action.value >= 0.0 && action.value <= 100.0;
  if (!is_percent) return tl::unexpected(std::string{"the oxygen of a gas is 0 to 100 %"});
  found->cylinder_oxygen = action.verb == Verb::gas ? std::optional{action.value / 100.0} : std::nullopt;
  return {};
}

tl::expected<void, std::string> Site::apply_to_room(const Action& action) {
  const auto found = std::ranges::find_if(rooms_, [&](const Room& each) { return each.facts().name == action.target; });
  if (found == rooms_.end()) return tl::unexpected("no room is called \"" + action.target + "\"");
  RoomControls& controls = found->controls;
  if (action.verb == Verb::relief_isolated && !found->facts().relief)
    return tl::unexpected("\"" + action.target + "\" has no relief valve");
  if (action.verb == Verb::temperature) controls.temperature_C = action.value;
  if (action.verb == Verb::humidity) controls.humidity_percent = action.value;
  if (action.verb == Verb::ventilation) controls.air_changes_per_h = action.value;
  if (action.verb == Verb::leak) controls.leak_m3_per_h = action.value;
  if (action.verb == Verb::purge) controls.purge_m3_per_h = action.value;
  if (action.verb == Verb::dosing) controls.dosing_m3_per_h = action.value;
  if (action.verb == Verb::people) controls.people = action.value;
  if (action.verb == Verb::door) controls.door_open = action.value != 0.0;
  if (action.verb == Verb::relief_isolated) controls.relief_isolated = action.value != 0.0;
  return {};
}

} // namespace oxherd::demo
