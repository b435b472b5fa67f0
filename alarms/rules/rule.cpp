#include "alarms/rules/rule.hpp"

#include <cassert>
#include <type_traits>
#include <utility>

namespace oxherd::alarms {

namespace {

/// Calls `with` with the rule and the state that belongs to it.
template <class State, class With> auto visit_both(const Rule& rule, State& state, With with) {
  return std::visit(
      [&](const auto& kind) {
        using Own = decltype(restored(kind, false, Monotonic{}));
        auto* own = std::get_if<Own>(&state);
        assert(own != nullptr); // a state of another kind of rule: whoever swapped the rule must use restored()
        return with(kind, *own);
      },
      rule);
}

} // namespace

void advance(const Rule& rule, RuleState& state, const RuleInput& in, Monotonic now) {
  visit_both(rule, state, [&](const auto& kind, auto& own) { own = next(kind, std::move(own), in, now).state; });
}

RuleState restored(const Rule& rule, bool was_present, Monotonic now) {
  return std::visit([&](const auto& kind) -> RuleState { return restored(kind, was_present, now); }, rule);
}

bool is_decided(const RuleState& state) {
  return std::visit([](const auto& own) { return is_decided(own.phase); }, state);
}

Delays delays_of(const Rule& rule) {
  return std::visit([](const auto& kind) { return delays_of(kind); }, rule);
}

std::optional<Channel> value_of(const Rule& rule, const RuleState& state, const RuleInput& in) {
  return visit_both(rule, state, [&](const auto& kind, const auto& own) { return value_of(kind, own, in); });
}

std::optional<double> limit_of(const Rule& rule) {
  return std::visit([](const auto& kind) { return limit_of(kind); }, rule);
}

const Limit* limit_in(const Rule& rule) {
  return std::visit(
      [](const auto& kind) -> const Limit* {
        if constexpr (std::is_same_v<std::decay_t<decltype(kind)>, Limit>)
          return &kind;
        else if constexpr (requires { kind.limit.direction; })
          return &kind.limit;
        else
          return nullptr;
      },
      rule);
}

void keep_sums(const Rule& rule, RuleState& state, const Rule& before, const RuleState& state_before) {
  const auto* average = std::get_if<TimeAverage>(&rule);
  const auto* average_before = std::get_if<TimeAverage>(&before);
  if (average && average_before && average->over == average_before->over &&
      average->limit.direction == average_before->limit.direction) {
    auto& kept = std::get<TimeAverageState>(state);
    LimitState own = kept;
    kept = std::get<TimeAverageState>(state_before);
    static_cast<LimitState&>(kept) = own;
  }
  if (std::holds_alternative<Degraded>(rule) && std::holds_alternative<Degraded>(before)) {
    auto& kept = std::get<DegradedState>(state);
    if (kept.degraded_since) kept.degraded_since = std::get<DegradedState>(state_before).degraded_since;
  }
}

bool is_overdue(const Rule& rule, const RuleState& state, Monotonic now) {
  const auto* degraded = std::get_if<Degraded>(&rule);
  return degraded != nullptr && is_overdue(*degraded, std::get<DegradedState>(state), now);
}

} // namespace oxherd::alarms
