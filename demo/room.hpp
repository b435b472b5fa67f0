#pragma once

#include <optional>

#include "demo/first_order.hpp"
#include "demo/gas_balance.hpp"
#include "demo/instruments.hpp"
#include "demo/site_facts.hpp"
#include "demo/weather.hpp"

namespace oxherd::demo {

/// What a story can turn in a room.
struct RoomControls {
  double air_changes_per_h = 0.0;
  double leak_m3_per_h = 0.0;   ///< pure nitrogen
  double purge_m3_per_h = 0.0;  ///< from the nitrogen generator
  double dosing_m3_per_h = 0.0; ///< carbon dioxide beyond what the room's own control doses
  double people = 0.0;
  bool door_open = false;
  double temperature_C = 20.0;
  double humidity_percent = 50.0;
  bool relief_isolated = false;
};

/// What a plant module has the room's plant do. The defaults are a module whose coils are all off: it airs the room
/// and lets no gas in.
struct PlantState {
  bool vents_open = true;
  bool extract_fan = true;
  bool fresh_air_open = true;
  bool purge_open = false;
  bool carbon_dioxide_open = false;
  bool scrubber = false;
  bool circulation_fan = false;
  bool heater = false;
  double heater_valve = 0.0; ///< 0 shut to 1 fully open
  bool chiller = false;
  bool humidifier = false;
};

/// One well-mixed room: gas, heat and water, with its own simple controls until a plant module takes it over.
class Room {
public:
  Room(const RoomFacts& facts, const Weather& weather);
  void advance(const Weather& weather, double now_s, double dt_s);
  [[nodiscard]] const RoomFacts& facts() const { return *facts_; }
  [[nodiscard]] TrueAir air() const;
  [[nodiscard]] const DryGas& gas() const { return gas_; }
  /// Against its surroundings, Pa. 0 where nothing is tight, and while door or fresh-air valve are open.
  [[nodiscard]] double over_pressure_Pa() const { return over_pressure_Pa_; }
  [[nodiscard]] bool air_circulates() const { return air_circulates_; } ///< the circulation fan moves air

  /// Takes the room over for good: what its plant facts name is from now on as a module last said, and its own
  /// regulation of that is at an end. The gas valves it had opened are shut.
  void drive(const PlantState& plant) { plant_ = plant; }
  [[nodiscard]] const std::optional<PlantState>& plant() const { return plant_; } ///< empty: it regulates itself

  RoomControls controls;

private:
  /// What regulation lets into the room, be it its own or the module's.
  struct Openings {
    double air_changes_per_h = 0.0;
    double fresh_air_m3_per_h = 0.0;
    double purge_m3_per_h = 0.0;
    double dosing_m3_per_h = 0.0;
    double scrubber_m3_per_h = 0.0;
  };
  struct HeatHold {
    double aim_K = 0.0;
    double time_constant_s = 0.0;
  };
  void choose_valves(double now_s);
  [[nodiscard]] Openings own_openings(double now_s);
  [[nodiscard]] Openings driven_openings(double now_s);
  [[nodiscard]] Flows flows(double now_s);
  [[nodiscard]] HeatHold heat_hold(double now_s);
  [[nodiscard]] VapourHold vapour_hold(double saturated, double now_s);
  void step_pressure(const Flows& all, Pressure outdoors_before, Temperature before, double dt_s);

  const RoomFacts* facts_; // into the table, which is never destroyed
  DryGas gas_;
  Pressure pressure_;
  double t_K_;
  double vapour_fraction_;
  bool dosing_ = false;
  bool purging_ = false;
  bool airing_ = false;
  std::optional<PlantState> plant_;
  DeadTime heat_on_its_way_, water_on_its_way_, dosing_on_its_way_, fan_proof_;
  bool air_circulates_ = true;
  double over_pressure_Pa_ = 0.0;
};

} // namespace oxherd::demo
