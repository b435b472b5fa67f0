#include "control/aids/leak_test.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <vector>

#include <fmt/format.h>

#include "control/aids/curve_fit.hpp"
#include "control/aids/series.hpp"

namespace oxherd::control {

namespace {

constexpr double gas_constant_of_dry_air = 287.05; // J/(kg K)

/// The series as the fit needs it.
struct LeakSeries {
  std::vector<double> at_s;     ///< since the first sample
  std::vector<double> drift_Pa; ///< D: what temperature and barometer alone would have brought since then
  std::vector<Estimate> seen_Pa;
  double reference_Pa = 1.0; ///< where the rate of a leak that is no exponential is told
  double temperature_range_K = 0;
  double barometer_range_Pa = 0;
  double correction_Pa = 0;
};

tl::unexpected<LeakRefusal> refused(LeakFault fault, std::string what) {
  return tl::unexpected(LeakRefusal{fault, std::move(what)});
}

bool usable(const Estimate& e) { return std::isfinite(e.value) && std::isfinite(e.u) && e.u >= 0.0; }
bool usable(const LeakSample& s) {
  return usable(s.over_pressure_Pa) && s.over_pressure_Pa.u > 0.0 && usable(s.room_K) && s.room_K.value > 0.0 &&
         usable(s.barometer_Pa) && s.barometer_Pa.value > 0.0;
}

double range_of(std::span<const LeakSample> samples, Estimate LeakSample::*what) {
  const auto [low, high] = std::minmax_element(
      samples.begin(), samples.end(), [&](const auto& a, const auto& b) { return (a.*what).value < (b.*what).value; });
  return ((*high).*what).value - ((*low).*what).value;
}

std::optional<LeakRefusal> fault_in(std::span<const LeakSample> samples, const LeakTest& test) {
  const auto fault = [](LeakFault kind, std::string what) { return LeakRefusal{kind, std::move(what)}; };
  if (!(test.volume_m3.value > 0.0) || !(test.volume_m3.u >= 0.0) || !(test.stated_pressure_Pa > 0.0))
    return fault(LeakFault::room_unknown, "the volume and the pressure to state the leak at must be above 0");
  const auto times = check_times(samples, test.points_least, test.gap_most);
  switch (times.fault) {
  case SeriesFault::none: break;
  case SeriesFault::too_few:
    return fault(LeakFault::too_few, fmt::format("{} readings: a leak test needs {}; let it run longer", samples.size(),
                                                 test.points_least));
  case SeriesFault::not_in_order:
    return fault(LeakFault::not_in_order, fmt::format("reading {} is not later than the one before", times.after + 2));
  case SeriesFault::gap:
    return fault(LeakFault::gap, fmt::format("no reading for {:.0f} s after reading {}: what happened meanwhile is not "
                                             "known; test again",
                                             alarms::seconds_of(samples[times.after + 1].at - samples[times.after].at),
                                             times.after + 1));
  }
  for (std::size_t i = 0; i < samples.size(); ++i) {
    if (!usable(samples[i]))
      return fault(LeakFault::not_finite, fmt::format("reading {} has a value that cannot be, or a pressure without "
                                                      "uncertainty",
                                                      i + 1));
    if (std::abs(samples[i].over_pressure_Pa.value) > test.relief_Pa)
      return fault(LeakFault::beyond_relief,
                   fmt::format("{:.0f} Pa at reading {} is beyond the relief setting of {:.0f} Pa: the valve may have "
                               "opened; begin lower",
                               samples[i].over_pressure_Pa.value, i + 1, test.relief_Pa));
  }
  return std::nullopt;
}

/// Brings the readings into the form of the fit, or says why temperature or barometer forbid it.
tl::expected<LeakSeries, LeakRefusal> prepared(std::span<const LeakSample> samples, const LeakTest& test) {
  LeakSeries series;
  series.reference_Pa = test.stated_pressure_Pa;
  series.temperature_range_K = range_of(samples, &LeakSample::room_K);
  series.barometer_range_Pa = range_of(samples, &LeakSample::barometer_Pa);
  if (!test.corrected && series.temperature_range_K > test.temperature_moved_K)
    return refused(LeakFault::temperature_moved,
                   fmt::format("the room's temperature moved by {:.3f} K, uncorrected no more than {:.3f} K may be: "
                               "stop cooling and fans, let it settle and test again",
                               series.temperature_range_K, test.temperature_moved_K));
  if (!test.corrected && series.barometer_range_Pa > test.barometer_moved_Pa)
    return refused(
        LeakFault::barometer_moved,
        fmt::format("the barometer moved by {:.0f} Pa, uncorrected no more than {:.0f} Pa may be: test again "
                    "in quiet weather or with correction",
                    series.barometer_range_Pa, test.barometer_moved_Pa));
  const auto& first = samples.front();
  const double absolute_Pa = first.barometer_Pa.value + first.over_pressure_Pa.value;
  for (const auto& s : samples) {
    series.at_s.push_back(alarms::seconds_of(s.at - first.at));
    const double warming_Pa = absolute_Pa * (s.room_K.value / first.room_K.value - 1.0); // ideal gas, volume fixed
    const double drift_Pa = test.corrected ? warming_Pa - (s.barometer_Pa.value - first.barometer_Pa.value) : 0.0;
    series.drift_Pa.push_back(drift_Pa);
    series.correction_Pa = std::max(series.correction_Pa, std::abs(drift_Pa));
    const double u_warming_Pa = test.corrected ? absolute_Pa / s.room_K.value * s.room_K.u : 0.0;
    const double u_barometer_Pa = test.corrected ? s.barometer_Pa.u : 0.0;
    series.seen_Pa.push_back(
        {s.over_pressure_Pa.value, std::hypot(s.over_pressure_Pa.u, u_warming_Pa, u_barometer_Pa)});
  }
  if (series.correction_Pa > test.correction_share * std::abs(first.over_pressure_Pa.value))
    return refused(LeakFault::correction_large,
                   fmt::format("temperature and barometer account for {:.0f} Pa, too much beside {:.0f} Pa to be "
                               "corrected: let the room settle and test again",
                               series.correction_Pa, first.over_pressure_Pa.value));
  return series;
}

/// A pressure after some time, where dp/dt = -rate p (p / reference)^(-bend): a leak that grows with p^(1 - bend).
double decayed(double p_Pa, double rate_time, double bend, double reference_Pa) {
  if (std::abs(bend) < 1e-9 || p_Pa <= 0.0) return p_Pa * std::exp(-rate_time);
  const double base = 1.0 - bend * rate_time * std::pow(reference_Pa / p_Pa, bend);
  return base > 0.0 ? p_Pa * std::pow(base, 1.0 / bend) : 0.0; // such a leak empties the room in finite time
}

/// Parameters: first pressure, rate, and bend where there is a third. Half of each step of D comes before the decay of
/// that step and half after, which is right to the second order of the step.
std::vector<double> pressures(const LeakSeries& series, std::span<const double> parameters) {
  const double bend = parameters.size() > 2 ? parameters[2] : 0.0;
  double p_Pa = parameters[0];
  std::vector<double> values{p_Pa};
  for (std::size_t i = 1; i < series.at_s.size(); ++i) {
    const double half_Pa = (series.drift_Pa[i] - series.drift_Pa[i - 1]) / 2.0;
    const double rate_time = parameters[1] * (series.at_s[i] - series.at_s[i - 1]);
    p_Pa = decayed(p_Pa + half_Pa, rate_time, bend, series.reference_Pa) + half_Pa;
    values.push_back(p_Pa);
  }
  return values;
}

tl::expected<CurveFit, std::string> fitted(const LeakSeries& series, bool bent) {
  const double first_Pa = series.seen_Pa.front().value, last_Pa = series.seen_Pa.back().value;
  const double share = std::clamp(last_Pa / first_Pa, 0.05, 0.98);
  const double rate = -std::log(share) / series.at_s.back();
  std::vector<Parameter> parameters{{first_Pa, std::abs(first_Pa)}, {rate, rate}};
  if (bent) parameters.push_back({0.0, 0.1});
  return fit_curve(
      series.seen_Pa, [&](std::span<const double> p) { return pressures(series, p); }, parameters);
}

/// How the rate changes when the gauge's zero is off by its standard uncertainty.
double u_from_zero(LeakSeries series, const CurveFit& fit, double u_zero_Pa) {
  if (!(u_zero_Pa > 0.0)) return 0.0;
  for (auto& seen : series.seen_Pa) seen.value += u_zero_Pa;
  const auto shifted = fitted(series, false);
  return std::abs(shifted ? shifted->parameters[1] - fit.parameters[1] : fit.parameters[1]); // no fit: nothing is known
}

/// Tells the exponent of the leak, and what its departure from 1 makes uncertain in the rate.
double judge_bend(const LeakSeries& series, double rate_per_s, LeakResult& result) {
  const auto bent = fitted(series, true);
  if (!bent) return 0.0;
  result.exponent = Estimate{1.0 - bent->parameters[2], bent->u(2)};
  result.departs = std::abs(bent->parameters[2]) > bent->coverage() * bent->u(2);
  if (!result.departs) return 0.0;
  return std::abs(bent->parameters[1] - rate_per_s) / std::numbers::sqrt3; // anywhere between the two
}

} // namespace

tl::expected<LeakResult, LeakRefusal> measure_leak(std::span<const LeakSample> samples, const LeakTest& test) {
  if (auto fault = fault_in(samples, test)) return tl::unexpected(*std::move(fault));
  const auto series = prepared(samples, test);
  if (!series) return tl::unexpected(series.error());
  constexpr const char* still = "the pressure does not fall beyond doubt: was the room pressurised, and is the gauge "
                                "connected? Let it run longer";
  if (series->seen_Pa.front().value <= 0.0) return refused(LeakFault::not_falling, still);
  const auto fit = fitted(*series, false);
  if (!fit) return refused(LeakFault::no_fit, fit.error());

  LeakResult result;
  const double rate = fit->parameters[1];
  const double u_rate =
      std::hypot(fit->u(1), u_from_zero(*series, *fit, test.u_zero_Pa), judge_bend(*series, rate, result));
  const Span span{rate - fit->coverage() * u_rate, rate + fit->coverage() * u_rate};
  if (!(span.low > 0.0)) return refused(LeakFault::not_falling, still);

  double atmosphere_Pa = 0.0, room_K = 0.0;
  for (const auto& s : samples) {
    atmosphere_Pa += s.barometer_Pa.value / static_cast<double>(samples.size());
    room_K += s.room_K.value / static_cast<double>(samples.size());
  }
  result.rate_per_s = {rate, u_rate};
  result.rate_95_per_s = span;
  result.tau_s = {1.0 / rate, u_rate / (rate * rate)};
  result.half_life_s = {std::numbers::ln2 / rate, std::numbers::ln2 * u_rate / (rate * rate)};
  result.half_life_95_s = {std::numbers::ln2 / span.high, std::numbers::ln2 / span.low};
  const double share = test.stated_pressure_Pa / atmosphere_Pa * rate; // of the volume, per second
  result.leak_m3_s = {test.volume_m3.value * share,
                      test.volume_m3.value * share *
                          std::hypot(test.volume_m3.u / test.volume_m3.value, u_rate / rate)};
  result.air_changes_per_h = share * 3600.0;
  const double density_kg_m3 = atmosphere_Pa / (gas_constant_of_dry_air * room_K);
  result.orifice_m2 =
      result.leak_m3_s.value / (test.discharge * std::sqrt(2.0 * test.stated_pressure_Pa / density_kg_m3));
  result.first_Pa = fit->parameters[0];
  result.chi_squared = fit->chi_squared;
  result.degrees_of_freedom = fit->degrees_of_freedom;
  result.explained = fit->explained();
  result.temperature_range_K = series->temperature_range_K;
  result.barometer_range_Pa = series->barometer_range_Pa;
  result.correction_Pa = series->correction_Pa;
  return result;
}

LeakJudgement judge(const LeakResult& result, const LeakCriterion& criterion) {
  const double folds = std::log(criterion.from_Pa / criterion.to_Pa);
  LeakJudgement judgement{.fall_s = folds * result.tau_s.value,
                          .fall_95_s = {folds / result.rate_95_per_s.high, folds / result.rate_95_per_s.low}};
  if (judgement.fall_95_s.low >= criterion.least_s) judgement.verdict = LeakVerdict::passed;
  if (judgement.fall_95_s.high < criterion.least_s) judgement.verdict = LeakVerdict::failed;
  return judgement;
}

} // namespace oxherd::control
