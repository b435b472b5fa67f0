#pragma once

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
};

/// One well-mixed room: gas, heat and water, with its own simple controls.
class Room {
public:
  Room(const RoomFacts& facts, const Weather& weather);
  void advance(const Weather& weather, double now_s, double dt_s);
  [[nodiscard]] const RoomFacts& facts() const { return *facts_; }
  [[nodiscard]] TrueAir air() const;
  [[nodiscard]] const DryGas& gas() const { return gas_; }

  RoomControls controls;

private:
  [[nodiscard]] Flows flows(double now_s);
  void choose_valves(double now_s);

  const RoomFacts* facts_; // into the table, which is never destroyed
  DryGas gas_;
  Pressure pressure_;
  double t_K_;
  double vapour_fraction_;
  bool dosing_ = false;
  bool purging_ = false;
  bool airing_ = false;
};

} // namespace oxherd::demo
