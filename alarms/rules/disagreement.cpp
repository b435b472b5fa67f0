#include "alarms/rules/disagreement.hpp"

#include <cmath>

#include "alarms/rules/standing_value.hpp"

namespace oxherd::alarms {

namespace {

std::optional<Channel> spread_of(std::span<const Channel> channels) {
  const Channel* lowest = nullptr;
  const Channel* highest = nullptr;
  int usable = 0;
  for (const auto& channel : channels) {
    if (!is_usable(channel)) continue;
    ++usable;
    if (lowest == nullptr || channel.value < lowest->value) lowest = &channel;
    if (highest == nullptr || channel.value >= highest->value) highest = &channel; // another one where all are equal
  }
  if (usable < 2) return std::nullopt;
  return Channel{Quality::good, highest->value - lowest->value, std::hypot(highest->expanded, lowest->expanded)};
}

Reach reach_of_spread(const Disagreement& rule, const std::optional<Channel>& spread) {
  if (!spread) return Reach::bad;
  const Reach reach = reach_of(rule.limit, {Quality::good, spread->value, 0.0});
  const bool real = spread->value > spread->expanded;
  return reach == Reach::beyond_limit && !real ? Reach::inside_deadband : reach;
}

} // namespace

Step<DisagreementState> next(const Disagreement& rule, DisagreementState state, const RuleInput& in, Monotonic now) {
  return held_against(rule.limit, state, reach_of_spread(rule, spread_of(in.channels)), now);
}

DisagreementState restored(const Disagreement& rule, bool was_present, Monotonic now) {
  return {restored(rule.limit, was_present, now)};
}

Delays delays_of(const Disagreement& rule) { return delays_of(rule.limit); }

std::optional<Channel> value_of(const Disagreement&, const DisagreementState&, const RuleInput& in) {
  return spread_of(in.channels);
}

std::optional<double> limit_of(const Disagreement& rule) { return rule.limit.limit; }

} // namespace oxherd::alarms
