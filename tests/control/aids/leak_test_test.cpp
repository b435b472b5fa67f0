#include "control/aids/leak_test.hpp"

#include <cmath>
#include <functional>
#include <numbers>
#include <vector>

#include <gtest/gtest.h>

#include "tests/control/aids/seeded.hpp"

namespace oxherd::control::leak_test_test {

using std::chrono::milliseconds;

/// A room that leaks while its temperature and the barometer go their own ways, integrated in steps of 0.1 s; a
/// reading every 10 s. The physics is written anew here: moles of gas and the ideal gas law.
struct LeakyRoom {
  double tau_s = 1800;
  double first_Pa = 230;
  double exponent = 1.0;
  double bend_at_Pa = 200; ///< where a leak that is no exponential has the rate 1 / tau
  std::function<double(double)> room_K = [](double) { return 275.15; };
  std::function<double(double)> barometer_Pa = [](double) { return 101325.0; };
  double u_Pa = 0.5, u_K = 0.0, u_barometer_Pa = 0.0;
  double zero_Pa = 0.0;

  [[nodiscard]] std::vector<LeakSample> series(double length_s, std::mt19937_64* noise = nullptr) const {
    std::vector<LeakSample> samples;
    std::normal_distribution<double> normal;
    const auto drawn = [&](double u) { return noise ? u * normal(*noise) : 0.0; };
    constexpr double step_s = 0.1;
    double gas = (barometer_Pa(0) + first_Pa) / room_K(0); // n R / V
    for (int i = 0; i * step_s <= length_s + 1e-9; ++i) {
      const double t_s = i * step_s;
      const double over_Pa = gas * room_K(t_s) - barometer_Pa(t_s);
      if (i % 100 == 0)
        samples.push_back({.at = milliseconds{std::llround(t_s * 1000)},
                           .over_pressure_Pa = {over_Pa + zero_Pa + drawn(u_Pa), u_Pa},
                           .room_K = {room_K(t_s) + drawn(u_K), u_K},
                           .barometer_Pa = {barometer_Pa(t_s) + drawn(u_barometer_Pa), u_barometer_Pa}});
      const double flow = over_Pa / tau_s * std::pow(std::abs(over_Pa) / bend_at_Pa, exponent - 1.0);
      gas -= step_s * flow / room_K(t_s);
    }
    return samples;
  }
};

LeakTest store() { return {.volume_m3 = {200.0, 0.0}}; }

LeakFault fault_of(const std::vector<LeakSample>& samples, const LeakTest& test = store()) {
  const auto result = measure_leak(samples, test);
  EXPECT_FALSE(result);
  EXPECT_FALSE(result ? true : result.error().what.empty());
  return result ? LeakFault{} : result.error().fault;
}

// Common practice, no source: 200 m3 with a half-life of 20 minutes leak 1.0 m3/h at 250 Pa.
TEST(LeakTest, TellsTheLeakOfTheWorkedExample) {
  auto test = store();
  test.stated_pressure_Pa = 250;
  const auto result = measure_leak(LeakyRoom{.tau_s = 1200 / std::numbers::ln2}.series(1200), test);
  ASSERT_TRUE(result) << result.error().what;
  EXPECT_NEAR(result->half_life_s.value, 1200, 0.1); // the simulation's steps allow for 0.05 s
  EXPECT_NEAR(result->leak_m3_s.value * 3600, 1.0, 0.05);
  EXPECT_NEAR(result->leak_m3_s.value * 3600, 200 * 250 / 101325.0 / (1200 / std::numbers::ln2) * 3600, 2e-4);
  EXPECT_NEAR(result->air_changes_per_h, result->leak_m3_s.value * 3600 / 200, 1e-12);
  EXPECT_NEAR(result->first_Pa, 230, 0.05);
  ASSERT_TRUE(result->exponent);
  EXPECT_NEAR(result->exponent->value, 1.0, 1e-3);
  EXPECT_FALSE(result->departs);
}

// A sharp-edged hole: Q = 0.61 A sqrt(2 p / rho), with rho = 1.2829 kg/m3 for dry air at 275.15 K and 101.325 kPa.
TEST(LeakTest, TellsTheHoleThatWouldLeakAsMuch) {
  const auto result = measure_leak(LeakyRoom{}.series(1200), store());
  ASSERT_TRUE(result);
  EXPECT_NEAR(result->orifice_m2, result->leak_m3_s.value / (0.61 * std::sqrt(2 * 200 / 1.2829)), 1e-8);
}

TEST(LeakTest, CarriesTheUncertaintyOfTheVolumeIntoTheFlow) {
  auto test = store();
  test.volume_m3.u = 20.0;
  const auto result = measure_leak(LeakyRoom{}.series(1200), test);
  ASSERT_TRUE(result);
  EXPECT_NEAR(result->leak_m3_s.u / result->leak_m3_s.value, std::hypot(0.1, result->tau_s.u / result->tau_s.value),
              1e-9);
}

// One kelvin is 368 Pa at 2 degrees Celsius: what falls by 0.1 K looks like a leak, what rises hides one.
TEST(LeakTest, SeesThroughATemperatureThatMoves) {
  for (const double kelvin : {-0.1, 0.1}) {
    SCOPED_TRACE(kelvin);
    const LeakyRoom room{.room_K = [=](double t_s) { return 275.15 + kelvin * t_s / 1200; }};
    const auto result = measure_leak(room.series(1200), store());
    ASSERT_TRUE(result) << result.error().what;
    EXPECT_NEAR(result->tau_s.value, 1800, 0.5);
    EXPECT_NEAR(result->correction_Pa, (101325 + 230) * 0.1 / 275.15, 0.01);
    EXPECT_NEAR(result->temperature_range_K, 0.1, 1e-9);

    auto uncorrected = store();
    uncorrected.corrected = false;
    EXPECT_EQ(fault_of(room.series(1200), uncorrected), LeakFault::temperature_moved);
    uncorrected.temperature_moved_K = 1.0; // what the refusal prevents
    const auto wrong = measure_leak(room.series(1200), uncorrected);
    ASSERT_TRUE(wrong);
    EXPECT_GT(std::abs(wrong->tau_s.value - 1800), 300);
  }
}

TEST(LeakTest, SeesThroughABarometerThatMoves) {
  const LeakyRoom room{.barometer_Pa = [](double t_s) { return 101325 - 60 * std::sin(t_s / 400); }};
  const auto result = measure_leak(room.series(1200), store());
  ASSERT_TRUE(result) << result.error().what;
  EXPECT_NEAR(result->tau_s.value, 1800, 0.5);
  auto uncorrected = store();
  uncorrected.corrected = false;
  EXPECT_EQ(fault_of(room.series(1200), uncorrected), LeakFault::barometer_moved);
}

TEST(LeakTest, AllowsWithoutCorrectionWhatHardlyMoves) {
  auto test = store();
  test.corrected = false;
  const auto moved = [&](double kelvin, double pascal) {
    return measure_leak(LeakyRoom{.room_K = [=](double t_s) { return 275.15 + kelvin * t_s / 1200; },
                                  .barometer_Pa = [=](double t_s) { return 101325 + pascal * t_s / 1200; }}
                            .series(1200),
                        test);
  };
  EXPECT_TRUE(moved(0.0299, 19.9));
  EXPECT_FALSE(moved(0.0301, 19.9));
  EXPECT_FALSE(moved(0.0299, 20.1));
}

TEST(LeakTest, RefusesACorrectionThatOutweighsThePressure) {
  const LeakyRoom room{.room_K = [](double t_s) { return 275.15 + 0.4 * t_s / 1200; }};
  EXPECT_EQ(fault_of(room.series(1200), {.volume_m3 = {200, 0}, .relief_Pa = 1000}), LeakFault::correction_large);
}

TEST(LeakTest, RefusesWhatItCannotJudge) {
  const auto good = LeakyRoom{}.series(1200);
  EXPECT_EQ(fault_of(good, {}), LeakFault::room_unknown);
  EXPECT_EQ(fault_of({good.begin(), good.begin() + 7}), LeakFault::too_few);
  EXPECT_EQ(fault_of({}), LeakFault::too_few);
  auto with_gap = good;
  with_gap.erase(with_gap.begin() + 20, with_gap.begin() + 32); // 130 s between its neighbours
  EXPECT_EQ(fault_of(with_gap), LeakFault::gap);
  auto backwards = good;
  backwards[9].at = backwards[8].at;
  EXPECT_EQ(fault_of(backwards), LeakFault::not_in_order);
  for (auto Estimate::*member : {&Estimate::value, &Estimate::u})
    for (auto LeakSample::*which : {&LeakSample::over_pressure_Pa, &LeakSample::room_K, &LeakSample::barometer_Pa}) {
      auto broken = good;
      broken[5].*which.*member = NAN;
      EXPECT_EQ(fault_of(broken), LeakFault::not_finite);
    }
}

TEST(LeakTest, RefusesAPressureAtWhichTheReliefValveOpens) {
  EXPECT_EQ(fault_of(LeakyRoom{.first_Pa = 250.5}.series(1200)), LeakFault::beyond_relief);
  EXPECT_TRUE(measure_leak(LeakyRoom{.first_Pa = 249.5}.series(1200), store()));
}

TEST(LeakTest, RefusesAPressureThatDoesNotFallBeyondDoubt) {
  // 0.14 Pa in 20 minutes; the mean of 121 readings of 2 Pa is known to 0.2 Pa.
  EXPECT_EQ(fault_of(LeakyRoom{.tau_s = 2e6, .u_Pa = 2.0}.series(1200)), LeakFault::not_falling);
  EXPECT_TRUE(measure_leak(LeakyRoom{.tau_s = 2e6, .u_Pa = 0.02}.series(1200), store()));
  EXPECT_EQ(fault_of(LeakyRoom{.tau_s = -4000, .first_Pa = 100}.series(1200)), LeakFault::not_falling);
  EXPECT_EQ(fault_of(LeakyRoom{.first_Pa = -200}.series(1200)), LeakFault::not_falling);
}

TEST(LeakTest, TellsTheExponentOfALeakThatIsNoExponential) {
  const auto hole = measure_leak(LeakyRoom{.exponent = 0.6}.series(1800), store());
  ASSERT_TRUE(hole) << hole.error().what;
  ASSERT_TRUE(hole->exponent);
  EXPECT_NEAR(hole->exponent->value, 0.6, 1e-3);
  EXPECT_TRUE(hole->departs);
  // The rate at the stated 200 Pa was 1 / 1800 s; the exponential says something else, and must say so.
  EXPECT_NEAR(hole->rate_per_s.value, 1.0 / 1800, 2 * hole->rate_per_s.u);
  EXPECT_GT(hole->rate_per_s.u * 1800, 0.03);
}

TEST(LeakTest, WidensForAGaugeWhoseZeroIsOff) {
  auto test = store();
  const LeakyRoom off{.zero_Pa = 4.0};
  const auto narrow = measure_leak(off.series(1200), test);
  test.u_zero_Pa = 4.0;
  const auto wide = measure_leak(off.series(1200), test);
  ASSERT_TRUE(narrow);
  ASSERT_TRUE(wide);
  EXPECT_GT(std::abs(narrow->tau_s.value - 1800), 2 * narrow->tau_s.u);
  EXPECT_LT(std::abs(wide->tau_s.value - 1800), 2 * wide->tau_s.u);
}

TEST(LeakTest, SaysWhenTheScatterIsMoreThanWasStated) {
  std::mt19937_64 noise{7};
  auto samples = LeakyRoom{.u_Pa = 3.0}.series(1200, &noise);
  for (auto& s : samples) s.over_pressure_Pa.u = 0.5;
  const auto result = measure_leak(samples, store());
  ASSERT_TRUE(result);
  EXPECT_FALSE(result->explained);
  EXPECT_NEAR(result->chi_squared / result->degrees_of_freedom, 36, 12); // 6 squared; sd of the ratio is 4.6
}

// 400 rooms with drawn leak, weather and noise, among them 0.01 K of noise, which is 3.7 Pa. If 95 % of the intervals
// hold the truth the count is binomial with a standard deviation of 4.4; five of them below are allowed, and
// not that every interval holds it (once in 10^8 runs).
TEST(LeakTest, IntervalsHoldTheTruthInNineteenOfTwentyRooms) {
  const auto seed = drawn_seed();
  SCOPED_TRACE("OXHERD_SEED=" + std::to_string(seed));
  std::mt19937_64 random{seed};
  const auto between = [&](double low, double high) {
    return std::uniform_real_distribution<double>{low, high}(random);
  };
  constexpr int rooms = 400;
  int held = 0;
  for (int i = 0; i < rooms; ++i) {
    const double kelvin = between(-0.1, 0.1), pascal = between(-40, 40), wave_s = between(200, 2000);
    const LeakyRoom room{.tau_s = between(600, 3000),
                         .first_Pa = between(180, 205),
                         .room_K = [=](double t_s) { return 275.15 + kelvin * t_s / 1200; },
                         .barometer_Pa = [=](double t_s) { return 101325 + pascal * std::sin(t_s / wave_s); },
                         .u_Pa = between(0.3, 2),
                         .u_K = between(0, 0.01),
                         .u_barometer_Pa = between(0, 3)};
    const auto result = measure_leak(room.series(1200, &random), store());
    ASSERT_TRUE(result) << result.error().what;
    held += result->half_life_95_s.covers(room.tau_s * std::numbers::ln2) ? 1 : 0;
  }
  EXPECT_GE(held, 380 - 22);
  EXPECT_LT(held, rooms) << "no interval ever misses: they are too wide";
}

TEST(LeakCriterion, IsUndecidedWhileTheIntervalHoldsIt) {
  LeakResult result;
  const auto verdict = [&](double low_s, double high_s) {
    result.rate_95_per_s = {std::numbers::ln2 / high_s, std::numbers::ln2 / low_s};
    return judge(result, {"half-life", 2, 1, 1200}).verdict;
  };
  EXPECT_EQ(verdict(1201, 1400), LeakVerdict::passed);
  EXPECT_EQ(verdict(1199, 1201), LeakVerdict::undecided);
  EXPECT_EQ(verdict(1000, 1199), LeakVerdict::failed);
}

// Common practice, no source: seven minutes from 187 to 125 Pa are a half-life of 12 minutes.
TEST(LeakCriterion, OfTheTradeAgreesWithItsHalfLife) {
  LeakResult result;
  const double tau_s = 12 * 60 / std::numbers::ln2;
  result.tau_s = {tau_s, 1};
  result.rate_95_per_s = {1 / (tau_s + 2), 1 / (tau_s - 2)};
  for (const auto& criterion : common_leak_criteria)
    if (criterion.name == "187 to 125 Pa, ordinary") {
      EXPECT_NEAR(judge(result, criterion).fall_s, 7 * 60, 5);
    } else {
      EXPECT_EQ(judge(result, criterion).verdict, LeakVerdict::failed) << criterion.name;
    }
}

} // namespace oxherd::control::leak_test_test
