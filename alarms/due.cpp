#include "alarms/due.hpp"

#include <cstdlib>
#include <type_traits>

namespace oxherd::alarms {

namespace {

std::optional<Monotonic> end_of_delay(const Delays& delays, Phase phase, Monotonic since) {
  switch (phase) {
  case Phase::clear:
  case Phase::present: return std::nullopt;
  case Phase::pending: return since + delays.on;
  case Phase::returning: return since + delays.off;
  }
  std::abort(); // not one of the phases: memory is corrupt, stop loudly
}

std::optional<Monotonic> due_of_rule(const Rule& rule, const RuleState& state, Monotonic evaluated) {
  return std::visit(
      [&](const auto& s) -> std::optional<Monotonic> {
        using S = std::decay_t<decltype(s)>;
        auto next = end_of_delay(delays_of(rule), s.phase, s.since);
        if constexpr (std::is_same_v<S, TimeAverageState>)
          if (s.held) next = earlier(next, s.until); // the held value goes on being summed up
        if constexpr (std::is_same_v<S, DegradedState>)
          if (s.degraded_since) {
            const Monotonic overdue = *s.degraded_since + std::get<Degraded>(rule).permitted;
            if (overdue > evaluated) next = earlier(next, overdue); // it happens once
          }
        return next;
      },
      state);
}

std::optional<Monotonic> due_of_standing(const Annunciation& a, const Standing& s) {
  std::optional<Monotonic> next = earlier(s.shelved_until, earlier(s.out_of_service_until, s.silenced_until));
  if (shown(s) == State::acknowledged) next = earlier(next, s.since + a.reannounce_after);
  return next;
}

} // namespace

std::optional<Monotonic> due(const Alarm& alarm, const AlarmState& state, Monotonic evaluated) {
  if (state.test || state.simulated) return Monotonic::min(); // tests are short: every tick may matter
  auto next =
      earlier(due_of_rule(alarm.rule, state.rule, evaluated), due_of_standing(alarm.annunciation, state.standing));
  const auto& latest = state.chatter.last.back();
  if (state.chatter.chattering && latest) next = earlier(next, *latest + chatter_quiet);
  return next;
}

} // namespace oxherd::alarms
