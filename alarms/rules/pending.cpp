#include "alarms/rules/pending.hpp"

namespace oxherd::alarms {

void keep_pending(const Rule& rule, RuleState& state, const Rule& before, const RuleState& state_before) {
  const auto keep = [&](auto* own, const auto* theirs) {
    if (own && theirs && own->phase == Phase::clear && theirs->phase == Phase::pending) *own = *theirs;
  };
  const auto* limit = std::get_if<Limit>(&rule);
  const auto* limit_before = std::get_if<Limit>(&before);
  if (limit && limit_before && limit->direction == limit_before->direction)
    keep(std::get_if<LimitState>(&state), std::get_if<LimitState>(&state_before));
  keep(std::get_if<NotMonitoredState>(&state), std::get_if<NotMonitoredState>(&state_before));
}

} // namespace oxherd::alarms
