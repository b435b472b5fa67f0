#include "daemon/outputs/confirmation.hpp"

#include <fmt/core.h>

#include "control/duty.hpp"

namespace oxherd::daemon {

using alarms::Monotonic;

namespace {

/// So long a failure is known before it is forgiven: time for its alarm to be raised and told.
constexpr std::chrono::minutes known_for{1};

bool lets_gas_in(const config::OutputKind& kind) {
  const auto* actuator = std::get_if<config::Actuator>(&kind);
  return actuator != nullptr && actuator->works_energised && control::facts_of(actuator->rules.duty).gas;
}

} // namespace

Confirmation::Confirmation(const config::Output& output)
    : within_{output.confirm_within}, is_coil_{config::written_at(output.kind).is_coil},
      is_gas_{lets_gas_in(output.kind)} {
  if (output.feedback) stroke_ = output.feedback->stroke;
}

std::string Confirmation::told(OutputValue value) const {
  if (is_coil_) return value != 0 ? "on" : "off";
  return fmt::format("{}", value);
}

void Confirmation::continue_from(const Confirmation& before, bool is_provable) {
  value_ = before.value_;
  value_since_ = before.value_since_;
  failing_ = before.failing_;
  for (std::size_t kept = 0; kept < holding_.size(); ++kept) {
    if (!is_provable && (!value_ || kept != kept_under(*value_))) continue;
    holding_[kept] = before.holding_[kept];
    contact_[kept] = before.contact_[kept];
  }
}

void Confirmation::asked(OutputValue value, Monotonic now) {
  if (value_ != value) {
    value_ = value;
    value_since_ = now;
    confirmed_value_.reset();
  }
  waiting_.raise(now, fmt::format("was told {}, and its bus has not come to it", told(value)));
}

void Confirmation::answered(const WriteResult& result, Monotonic now) {
  waiting_.clear();
  if (result.error)
    return failing_.raise(now, fmt::format("cannot be told {}: {}", told(result.value), result.error->detail));
  if (result.asking_error)
    failing_.raise(now, fmt::format("was told {}, but cannot be asked what it holds: {}", told(result.value),
                                    result.asking_error->detail));
  else
    failing_.clear();
  judge_held(result, now);
  judge_contact(result, now);
  if (is_gas_ && result.value == 0 && holds(0)) forgive_gas(now);
  answered_ = answered_ || !result.asking_error;
}

void Confirmation::judge_held(const WriteResult& result, Monotonic now) {
  if (!result.held) return;
  auto& doubt = holding_[kept_under(result.value)];
  if (*result.held != result.value)
    return doubt.raise(now, fmt::format("was told {}, its device holds {}", told(result.value), told(*result.held)));
  doubt.clear();
  if (result.value == value_ && (!stroke_ || result.contact == (result.value != 0))) confirmed_value_ = result.value;
}

void Confirmation::judge_contact(const WriteResult& result, Monotonic now) {
  // Judged only when the contact has had its time to follow, and only by what it was told without a break.
  if (!result.contact || !stroke_ || result.value != value_ || now - value_since_ < *stroke_) return;
  auto& doubt = contact_[kept_under(result.value)];
  if (*result.contact == (result.value != 0)) return doubt.clear();
  doubt.raise(now, fmt::format("was told {}, its feedback contact shows {}", told(result.value),
                               *result.contact ? "on" : "off"));
}

void Confirmation::forgive_gas(Monotonic now) {
  for (auto* once : {&holding_[kept_under(1)], &contact_[kept_under(1)]})
    if (once->since && now - *once->since >= within_ + known_for) once->clear();
}

Confirmation::Found Confirmation::found(Monotonic now) const {
  const Doubt* oldest = nullptr;
  for (const auto* doubt : {&failing_, &holding_[0], &holding_[1], &contact_[0], &contact_[1], &waiting_})
    if (doubt->since && (oldest == nullptr || *doubt->since < *oldest->since)) oldest = doubt;
  const bool only_waiting = oldest == &waiting_;
  if (oldest != nullptr && now - *oldest->since >= within_) return {false, oldest->words};
  if (oldest != nullptr && !only_waiting) return {std::nullopt, oldest->words};
  return {answered_ ? std::optional{true} : std::nullopt, answered_ ? std::string{} : "not confirmed yet"};
}

} // namespace oxherd::daemon
