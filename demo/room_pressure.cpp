#include "demo/room_pressure.hpp"

#include "demo/first_order.hpp"

namespace oxherd::demo {

double step_over_pressure(double before_Pa, const PressureBalance& balance, double dt_s) {
  const double p_Pa = balance.outdoors_before.si();
  const double Pa_per_m3 = p_Pa / balance.volume_m3;
  const double inflow_m3_per_s = balance.inflow_m3_per_h / 3600.0;
  const double warmed_Pa = p_Pa * (balance.after.si() - balance.before.si()) / balance.before.si();
  const double barometer_Pa = balance.outdoors_after.si() - p_Pa;
  const double source = Pa_per_m3 * inflow_m3_per_s + (warmed_Pa - barometer_Pa) / dt_s;
  return after_constant(before_Pa, source, Pa_per_m3 * balance.conductance_m3_per_h_per_Pa / 3600.0, dt_s);
}

} // namespace oxherd::demo
