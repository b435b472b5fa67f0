#include <algorithm>
#include <cmath>

#include <gtest/gtest.h>

#include "demo/devices.hpp"

// Loops closed over registers on the chamber and the store: that they can be held, and how well.
namespace oxherd::demo::closed_loop_test {

using namespace std::chrono_literals;

class ClosedLoop : public ::testing::Test {
protected:
  [[nodiscard]] double chamber_C() const {
    return static_cast<std::int16_t>(site_.input_registers("growth-chamber-1/air")[0]) / 10.0;
  }
  void write_coil(Line line, int unit, std::uint8_t coil, bool on) {
    const Bytes request{0x05, 0, coil, static_cast<std::uint8_t>(on ? 0xFF : 0), 0};
    ASSERT_EQ(devices_.answer(line, unit, request, 0ms), request);
  }
  void write_register(std::uint16_t value) {
    Bytes request{0x06, 0, 0};
    append_word(request, value);
    ASSERT_EQ(devices_.answer(Line::plant, 32, request, 0ms), request);
  }

  Site site_{13};
  Devices devices_{site_};
};

// A heater on and off within 0.5 K: dead time and the probe's lag, 80 s of the 23 K that drive it over 15 min at most,
// carry it 1 K further at most.
TEST_F(ClosedLoop, HoldsATemperatureWithAHeaterThatIsOnOrOff) {
  write_coil(Line::plant, 32, 0, true);
  bool on = false;
  int starts = 0;
  for (int s = 0; s < 4 * 3600; s += 5) {
    if (chamber_C() < 25.5 && !on) {
      on = true;
      ++starts;
    } else if (chamber_C() > 26.5) {
      on = false;
    }
    write_coil(Line::plant, 32, 1, on);
    site_.advance(5s);
    if (s <= 3600) continue;
    ASSERT_NEAR(chamber_C(), 26.0, 1.5) << s;
  }
  EXPECT_GT(starts, 4);
}

// Gain 12 K, time constant 900 s, 80 s of delay and lag: a proportional gain of 0.29 per kelvin and 900 s of reset time
// are three times slower than the delay.
TEST_F(ClosedLoop, HoldsATemperatureWithoutOffsetByAModulatingValve) {
  write_coil(Line::plant, 32, 0, true);
  double integral = 0.0;
  double sum_K = 0.0;
  int count = 0;
  for (int s = 0; s < 4 * 3600; s += 5) {
    const double error_K = 26.0 - chamber_C();
    const double wanted = 0.29 * error_K + integral;
    const double output = std::clamp(wanted, 0.0, 1.0);
    if (wanted == output) integral += 0.29 * error_K * 5.0 / 900.0;
    write_register(static_cast<std::uint16_t>(std::lround(output * 10000.0)));
    site_.advance(5s);
    if (s <= 2 * 3600) continue;
    ASSERT_NEAR(chamber_C(), 26.0, 0.3) << s;
    sum_K += chamber_C() - 26.0;
    ++count;
  }
  EXPECT_NEAR(sum_K / count, 0.0, 0.05);
}

TEST_F(ClosedLoop, HoldsTheOxygenOfTheStoreBetweenPurgeAndFreshAir) {
  const Room& store = *site_.room("pear-store-2");
  bool purging = false;
  bool airing = false;
  for (int s = 0; s < 12 * 3600; s += 10) {
    const double oxygen = store.gas().oxygen();
    if (oxygen > 0.021) purging = true;
    if (oxygen < 0.0205) purging = false;
    if (oxygen < 0.0195) airing = true;
    if (oxygen > 0.020) airing = false;
    write_coil(Line::stores, 6, 0, purging);
    write_coil(Line::stores, 6, 1, !airing);
    write_coil(Line::stores, 6, 2, store.gas().carbon_dioxide() > 0.007);
    write_coil(Line::stores, 6, 3, store.air().temperature.si() > 274.15);
    site_.advance(10s);
    ASSERT_NEAR(store.gas().oxygen(), 0.02, 0.0015) << s;
    ASSERT_LT(store.gas().carbon_dioxide(), 0.0085) << s;
    ASSERT_NEAR(store.air().temperature.si(), 274.15, 0.3) << s;
  }
}

} // namespace oxherd::demo::closed_loop_test
