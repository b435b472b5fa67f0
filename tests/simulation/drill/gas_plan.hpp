#pragma once

#include <cstdint>
#include <optional>
#include <string>

#include "tests/simulation/drill/chance.hpp"

namespace oxherd::drill {

struct RoomPlan;

enum class Gas { none, nitrogen, carbon_dioxide };

/// What lets a gas into a room, and what tells of the room that people may be in it.
struct GasPlan {
  Gas kind = Gas::none;
  bool has_door_contact = true, has_people_contact = true;
  double contact_every_s = 1.0, carbon_dioxide_every_s = 2.0; ///< poll periods
  double write_every_s = 1.0;
  std::optional<double> stroke_s;    ///< of a contact that follows the valve; empty: there is none
  double supply_changes_h = 2.0;     ///< of nitrogen, in volumes of the room an hour
  double set_point = 0.05;           ///< that the loop holds: of oxygen, or of carbon dioxide
  double carbon_dioxide_per_s = 0.0; ///< so fast it rises while the valve is open
  [[nodiscard]] bool any() const { return kind != Gas::none; }
};

/// Volume of every room with gas, and what the settings say of the gas.
inline constexpr double volume_m3 = 100.0, supplied_oxygen = 0.005;
inline constexpr double carbon_dioxide_ceiling = 1500e-6;

/// Gives a room a valve, its contacts, and poll periods with which gas is let in.
void draw_gas(Chance& chance, RoomPlan& room);
/// Its lines in the settings: of the room itself, and tables of their own.
[[nodiscard]] std::string gas_room_keys(const RoomPlan& room);
[[nodiscard]] std::string gas_tables(const RoomPlan& room);
/// Of the output.
[[nodiscard]] std::string valve_name(const RoomPlan& room);
/// Polls and evaluations a day that come by it.
[[nodiscard]] double gas_polls_a_day(const GasPlan& gas);

} // namespace oxherd::drill
