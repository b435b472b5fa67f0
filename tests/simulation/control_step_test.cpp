// Steps of the simulated plant through the whole loop of order, decision, module and room, against their closed forms.
#include <gtest/gtest.h>

#include "tests/simulation/controlled_site.hpp"

namespace oxherd::simulation::control_step_test {

using namespace std::chrono_literals;
using control::ActuatorAct;

// A first-order lag that also draws on the outdoors: dT/dt = (A - T)/tau + x (To - T), with x = 0.05 of the air
// changes. After a step of A it goes as 1 - exp(-(1/tau + x) t), the dead time later.
constexpr double tau_s = 900.0, dead_time_s = 20.0, changes_per_s = 1.5 / 3600.0;
/// The outdoors are not still: 4 K of daily swing move by 1.05 K in an hour at most.
constexpr double outdoors_K_per_h = 1.05;

/// By day, its vents shut, no chiller, no humidifier, the heater in a person's hand and the chamber settled.
struct Settled : ControlledSite {
  Settled() : ControlledSite{{.room = "growth-chamber-1"}} {
    run(5min);
    EXPECT_EQ(order("chamber-heater", ActuatorAct::hold, 0.0, 8h), "");
    for (const char* held : {"chamber-chiller", "chamber-humidifier", "chamber-vents", "chamber-co2"})
      EXPECT_EQ(order(held, ActuatorAct::hold, 0.0, 8h), "");
    run(3h); // exp(-10800/900) is 6e-6
  }
};

TEST(StepOfTheHeater, WarmsTheChamberAsAFirstOrderLagBehindItsDeadTime) {
  Settled chamber;
  constexpr double exchange_per_s = 0.05 * changes_per_s, rate_per_s = 1.0 / tau_s + exchange_per_s;
  const double from_C = chamber.temperature_C();
  const double step_K = 0.5 * 12.0 / tau_s / rate_per_s; // half of the valve's 12 K
  ASSERT_EQ(chamber.order("chamber-heater", ActuatorAct::hold, 0.5, 8h), "");
  chamber.beat(); // decided and written; from the next second on the room is driven by it
  const double began_s = chamber.seconds();
  double worst_K = 0.0, at_one_constant_K = NAN;
  chamber.run(1h, [&] {
    const double acted_s = std::max(0.0, chamber.seconds() - began_s - dead_time_s);
    const double expected_C = from_C - step_K * std::expm1(-rate_per_s * acted_s);
    worst_K = std::max(worst_K, std::abs(chamber.temperature_C() - expected_C));
    if (std::isnan(at_one_constant_K) && acted_s * rate_per_s >= 1.0)
      at_one_constant_K = chamber.temperature_C() - from_C;
  });
  // What the outdoors may move, of which the room takes its share; and one second of the steepest rise.
  const double tolerance_K = outdoors_K_per_h * exchange_per_s / rate_per_s + step_K * rate_per_s;
  EXPECT_LT(worst_K, tolerance_K);
  EXPECT_NEAR(at_one_constant_K, 0.632 * step_K, tolerance_K);
}

TEST(StepOfTheHumidifier, MoistensTheChamberAsAFirstOrderLagBehindItsDeadTime) {
  Settled chamber;
  constexpr double rate_per_s = 1.0 / tau_s + changes_per_s; // fresh air brings its own water, all of it
  const double from = chamber.truth().air().vapour_fraction;
  const double step = 0.012 / tau_s / rate_per_s;
  ASSERT_EQ(chamber.order("chamber-humidifier", ActuatorAct::hold, 1.0, 8h), "");
  chamber.beat();
  const double began_s = chamber.seconds();
  double worst = 0.0;
  chamber.run(20min, [&] {
    const double acted_s = std::max(0.0, chamber.seconds() - began_s - dead_time_s);
    worst = std::max(
        worst, std::abs(chamber.truth().air().vapour_fraction - (from - step * std::expm1(-rate_per_s * acted_s))));
  });
  // Outdoor air of 18 °C at most holds 2.1 % of water at saturation and 6.3 % more or less of that for each kelvin.
  const double outdoors = 0.7 * 0.021 * 0.063 * outdoors_K_per_h / 3.0;
  EXPECT_LT(worst, outdoors * changes_per_s / rate_per_s + step * rate_per_s);
}

} // namespace oxherd::simulation::control_step_test
