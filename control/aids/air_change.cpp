#include "control/aids/air_change.hpp"

#include <algorithm>
#include <cmath>
#include <optional>
#include <vector>

#include <fmt/format.h>

#include "control/aids/curve_fit.hpp"
#include "control/aids/series.hpp"

namespace oxherd::control {

namespace {

constexpr double hour_s = 3600.0;

std::optional<AirChangeRefusal> fault_in(std::span<const TracerSample> samples, const AirChangeTest& test) {
  const auto fault = [](AirChangeFault kind, std::string what) { return AirChangeRefusal{kind, std::move(what)}; };
  const auto times = check_times(samples, test.points_least, test.gap_most);
  switch (times.fault) {
  case SeriesFault::none: break;
  case SeriesFault::too_few:
    return fault(AirChangeFault::too_few, fmt::format("{} readings: an air change needs {}; let it run longer",
                                                      samples.size(), test.points_least));
  case SeriesFault::not_in_order:
    return fault(AirChangeFault::not_in_order,
                 fmt::format("reading {} is not later than the one before", times.after + 2));
  case SeriesFault::gap:
    return fault(AirChangeFault::gap,
                 fmt::format("a gap after reading {}: what happened meanwhile is not known", times.after + 1));
  }
  const auto finite = [](const Estimate& e) { return std::isfinite(e.value) && std::isfinite(e.u) && e.u >= 0.0; };
  for (std::size_t i = 0; i < samples.size(); ++i)
    if (!finite(samples[i].fraction) || samples[i].fraction.u <= 0.0)
      return fault(AirChangeFault::not_finite,
                   fmt::format("reading {} is not finite or has no uncertainty above 0", i + 1));
  if (!finite(test.outside) || !finite(test.source_per_s))
    return fault(AirChangeFault::not_finite, "the outdoor fraction or the source is not finite");
  return std::nullopt;
}

/// Parameters: first fraction and rate. Written with expm1, which stays right where the rate is nearly 0.
tl::expected<CurveFit, std::string> fitted(std::span<const TracerSample> samples, double outside, double source_per_s) {
  std::vector<double> at_s;
  std::vector<Estimate> seen;
  for (const auto& s : samples) {
    at_s.push_back(alarms::seconds_of(s.at - samples.front().at));
    seen.push_back(s.fraction);
  }
  const auto curve = [&](std::span<const double> parameters) {
    std::vector<double> values;
    const double rate = parameters[1];
    for (const double t_s : at_s) {
      const double gained_s = std::abs(rate) < 1e-15 ? t_s : -std::expm1(-rate * t_s) / rate;
      values.push_back(parameters[0] + (rate * (outside - parameters[0]) + source_per_s) * gained_s);
    }
    return values;
  };
  const double first = seen.front().value, last = seen.back().value;
  const double share = std::clamp((last - outside) / (first - outside), 0.05, 0.98);
  const double rate = -std::log(share) / at_s.back();
  const std::vector<Parameter> parameters{{first, std::max(std::abs(first), 1e-6)}, {rate, rate}};
  return fit_curve(seen, curve, parameters);
}

} // namespace

tl::expected<AirChange, AirChangeRefusal> measure_air_change(std::span<const TracerSample> samples,
                                                             const AirChangeTest& test) {
  if (auto fault = fault_in(samples, test)) return tl::unexpected(*std::move(fault));
  const double difference = samples.front().fraction.value - test.outside.value;
  if (std::abs(difference) <= 3.0 * std::hypot(samples.front().fraction.u, test.outside.u))
    return tl::unexpected(AirChangeRefusal{AirChangeFault::no_difference,
                                           "the room hardly differs from outdoor air: begin further from it"});
  const auto fit = fitted(samples, test.outside.value, test.source_per_s.value);
  if (!fit) return tl::unexpected(AirChangeRefusal{AirChangeFault::no_fit, fit.error()});

  const double rate = fit->parameters[1];
  // What is common to all readings shifts the fit as a whole, so the fit is made again with it shifted.
  const auto shift = [&](double outside, double source_per_s) {
    const auto shifted = fitted(samples, outside, source_per_s);
    return shifted ? std::abs(shifted->parameters[1] - rate) : std::abs(rate); // no second fit: nothing is known
  };
  const double u_outside = shift(test.outside.value + test.outside.u, test.source_per_s.value);
  const double u_source = shift(test.outside.value, test.source_per_s.value + test.source_per_s.u);
  const double u = std::hypot(fit->u(1), u_outside, u_source);
  const Span span{rate - fit->coverage() * u, rate + fit->coverage() * u};
  if (!(span.low > 0.0))
    return tl::unexpected(AirChangeRefusal{
        AirChangeFault::not_approaching,
        "the room does not approach outdoor air beyond doubt: let it run longer, or look for a source of the gas"});
  const auto plain = fitted(samples, test.outside.value, 0.0);
  return AirChange{.per_h = {rate * hour_s, u * hour_s},
                   .per_h_95 = {span.low * hour_s, span.high * hour_s},
                   .without_source_per_h = plain ? std::optional{plain->parameters[1] * hour_s} : std::nullopt,
                   .end_fraction = test.outside.value + test.source_per_s.value / rate,
                   .chi_squared = fit->chi_squared,
                   .degrees_of_freedom = fit->degrees_of_freedom,
                   .explained = fit->explained()};
}

tl::expected<double, AirChangeRefusal> air_change_per_h(const TwoPoints& points) {
  const double ratio = (points.first - points.outside) / (points.second - points.outside);
  if (!std::isfinite(ratio) || ratio <= 0.0 || !(points.apart_s > 0.0))
    return tl::unexpected(AirChangeRefusal{AirChangeFault::no_difference,
                                           "both readings must lie on one side of outdoor air, and apart in time"});
  return std::log(ratio) / points.apart_s * hour_s;
}

} // namespace oxherd::control
