#include "alarms/patterns.hpp"

#include <cstdlib>

namespace oxherd::alarms {

namespace {

constexpr Monotonic fast_half{500}, slow_half{1500};

bool in_first_half(Monotonic half, Monotonic now) { return now % (2 * half) < half; }

} // namespace

int urgency(State state) {
  switch (state) {
  case State::unacknowledged:
  case State::latched_unacknowledged: return 0;
  case State::returned_to_normal_unacknowledged: return 1;
  case State::acknowledged: return 2;
  case State::latched_acknowledged: return 3;
  case State::out_of_service:
  case State::shelved:
  case State::suppressed_by_design: return 4;
  case State::normal: return 5;
  }
  std::abort(); // not one of the states: memory is corrupt, stop loudly
}

Announced most_urgent(std::span<const Announced> alarms) {
  Announced found{State::normal, Priority::low, false};
  for (const auto& one : alarms) {
    const int mine = urgency(one.state), best = urgency(found.state);
    if (mine < best || (mine == best && one.priority > found.priority)) found = one;
  }
  return found;
}

Light light_of(State state) {
  switch (state) {
  case State::unacknowledged:
  case State::latched_unacknowledged: return Light::fast_flash;
  case State::returned_to_normal_unacknowledged: return Light::slow_flash;
  case State::acknowledged:
  case State::latched_acknowledged: return Light::steady;
  case State::out_of_service:
  case State::shelved:
  case State::suppressed_by_design:
  case State::normal: return Light::off;
  }
  std::abort(); // as above
}

Light light_of(std::span<const Announced> alarms) { return light_of(most_urgent(alarms).state); }

Sound sound_of(std::span<const Announced> alarms) {
  Sound sound = Sound::off;
  for (const auto& one : alarms) {
    if (!one.sounding) continue;
    if (one.priority == Priority::critical) return Sound::continuous;
    sound = Sound::pulses;
  }
  return sound;
}

bool is_on(Light light, Monotonic now) {
  switch (light) {
  case Light::off: return false;
  case Light::slow_flash: return in_first_half(slow_half, now);
  case Light::steady: return true;
  case Light::fast_flash: return in_first_half(fast_half, now);
  }
  std::abort(); // as above
}

bool is_on(Sound sound, Monotonic now) {
  switch (sound) {
  case Sound::off: return false;
  case Sound::pulses: return in_first_half(fast_half, now);
  case Sound::continuous: return true;
  }
  std::abort(); // as above
}

} // namespace oxherd::alarms
