#pragma once

#include "compensation/quantity.hpp"

namespace oxherd::demo {

/// What bears on the over-pressure of a closed room over one step. Volumes are at the room's own conditions.
struct PressureBalance {
  double volume_m3 = 0.0;
  double conductance_m3_per_h_per_Pa = 0.0; ///< of leaks and a relief path together: flow out per pascal; 0: tight
  double inflow_m3_per_h = 0.0;             ///< gas let in less gas taken out, the leak's own flow aside
  Pressure outdoors_before, outdoors_after; ///< the barometer
  Temperature before, after;                ///< of the room
};

/// Over-pressure of a closed room against its surroundings after one step, by the ideal gas law with a leak in
/// proportion to it:
///   dP/dt = (p/V) (Q - g P) + (p/T) dT/dt - dp/dt
/// with p the barometer, V the volume, Q the inflow and g the conductance. Exact for an inflow, a drift of the
/// temperature and one of the barometer that are constant over the step: P tends to (Q + (V/T) dT/dt - (V/p) dp/dt)/g
/// with the time constant V/(p g), 0.69 of which is the half-life that a leak test looks for.
/// @checked tests/demo/room_pressure_test.cpp against that closed form
[[nodiscard]] double step_over_pressure(double before_Pa, const PressureBalance& balance, double dt_s);

} // namespace oxherd::demo
