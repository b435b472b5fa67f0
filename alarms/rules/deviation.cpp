#include "alarms/rules/deviation.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "alarms/rules/standing_value.hpp"

namespace oxherd::alarms {

namespace {

/// The channels as distances from the set point; uncertainty and quality stay theirs.
struct Distances {
  std::array<Channel, channels_max> channels{};
  std::size_t n = 0;
  [[nodiscard]] std::span<const Channel> span() const { return {channels.data(), n}; }
};

Distances distances(double set_point, std::span<const Channel> channels) {
  Distances d;
  d.n = std::min(channels.size(), d.channels.size());
  for (std::size_t i = 0; i < d.n; ++i) {
    d.channels[i] = channels[i];
    d.channels[i].value = std::abs(channels[i].value - set_point);
  }
  return d;
}

} // namespace

Step<DeviationState> next(const Deviation& rule, DeviationState state, const RuleInput& in, Monotonic now) {
  const Distances away = distances(rule.set_point, in.channels);
  RuleInput of_distances = in;
  of_distances.channels = away.span();
  const auto after = next(rule.limit, state, of_distances, now);
  return {{after.state}, after.decision};
}

DeviationState restored(const Deviation& rule, bool was_present, Monotonic now) {
  return {restored(rule.limit, was_present, now)};
}

Delays delays_of(const Deviation& rule) { return delays_of(rule.limit); }

std::optional<Channel> value_of(const Deviation& rule, const DeviationState&, const RuleInput& in) {
  return standing_value(distances(rule.set_point, in.channels).span(), Direction::high);
}

std::optional<double> limit_of(const Deviation& rule) { return rule.limit.limit; }

} // namespace oxherd::alarms
