#include "alarms/annunciation.hpp"

#include <algorithm>
#include <cstdlib>

#include "alarms/suppression.hpp"

namespace oxherd::alarms {

namespace {

/// Moves what lies beneath; `since` follows only when a person sees the change.
Standing moved(Standing s, State beneath, Monotonic now) {
  const State before = shown(s);
  s.beneath = beneath;
  if (shown(s) != before) s.since = now;
  return s;
}

/// As a new alarm: an occurrence that was silenced before sounds again.
Standing annunciated(Standing s, Monotonic now) {
  s.silenced_until.reset();
  return moved(s, State::unacknowledged, now);
}

/// Where a condition that ends leads, beneath any suppression.
State after_return(const Annunciation& a, State beneath) {
  switch (beneath) {
  case State::unacknowledged:
    if (a.latching) return State::latched_unacknowledged;
    return a.acknowledge_required ? State::returned_to_normal_unacknowledged : State::normal;
  case State::acknowledged: return a.latching ? State::latched_acknowledged : State::normal;
  case State::normal:
  case State::returned_to_normal_unacknowledged:
  case State::latched_unacknowledged:
  case State::latched_acknowledged: return beneath;
  case State::shelved:
  case State::suppressed_by_design:
  case State::out_of_service: break;
  }
  std::abort(); // nothing of this kind lies beneath: memory is corrupt, stop loudly
}

tl::unexpected<Refusal> refused(const char* text) { return tl::unexpected(Refusal{text}); }

} // namespace

tl::expected<Standing, Refusal> acknowledge(Standing s, Monotonic now) {
  switch (shown(s)) {
  case State::unacknowledged: s = moved(s, State::acknowledged, now); break;
  case State::returned_to_normal_unacknowledged: s = moved(s, State::normal, now); break;
  case State::latched_unacknowledged: s = moved(s, State::latched_acknowledged, now); break;
  case State::normal:
    return refused(
        "nothing to acknowledge: the alarm is normal; acknowledge it once it is announced, never in advance");
  case State::acknowledged:
    return refused("the alarm is acknowledged already: remove its cause; it leaves the list when the condition ends");
  case State::latched_acknowledged:
    return refused("the alarm is acknowledged already: inspect the room, then reset at the room");
  case State::shelved: return refused("the alarm is shelved: unshelve it first, then acknowledge what it shows");
  case State::suppressed_by_design:
    return refused("the alarm is suppressed by design: wait until that ends; it is then announced anew if it is due");
  case State::out_of_service:
    return refused("the alarm is out of service: return it to service first, then acknowledge what it shows");
  }
  s.silenced_until.reset();
  return s;
}

tl::expected<Standing, Refusal> reset(Standing s, Monotonic now) {
  switch (shown(s)) {
  case State::latched_acknowledged: return moved(s, State::normal, now);
  case State::normal: return refused("nothing to reset: the alarm is normal");
  case State::unacknowledged:
    return refused(
        "the condition is still present and not acknowledged: acknowledge it, remove its cause, and reset at "
        "the room once it has ended");
  case State::acknowledged:
    return refused("the condition is still present: remove its cause first, and reset at the room once it has ended");
  case State::returned_to_normal_unacknowledged:
    return refused("the alarm does not latch and needs no reset: acknowledge it");
  case State::latched_unacknowledged:
    return refused("the alarm is not acknowledged yet: acknowledge it first, then reset at the room");
  case State::shelved: return refused("the alarm is shelved: unshelve it first, then reset at the room");
  case State::suppressed_by_design:
    return refused("the alarm is suppressed by design: wait until that ends, then reset at the room");
  case State::out_of_service:
    return refused("the alarm is out of service: return it to service first, then reset at the room");
  }
  std::abort();
}

tl::expected<Standing, Refusal> silence(const Annunciation& a, Standing s, Monotonic now) {
  if (s.silenced_until && *s.silenced_until > now)
    return refused("the alarm is silenced already: acknowledge it, or it sounds again when the silence is over");
  if (!sounds(s, now)) return refused("the alarm does not sound: there is nothing to silence");
  s.silenced_until = now + std::min(a.silence_for, silence_at_most);
  return s;
}

State shown(const Standing& standing) {
  if (standing.out_of_service_until) return State::out_of_service;
  if (standing.shelved_until) return State::shelved;
  if (standing.suppressed_by_design) return State::suppressed_by_design;
  return standing.beneath;
}

bool sounds(const Standing& standing, Monotonic now) {
  const State state = shown(standing);
  if (state != State::unacknowledged && state != State::latched_unacknowledged) return false;
  return !standing.silenced_until || *standing.silenced_until <= now;
}

bool drops_relay(const Standing& standing) {
  return standing.beneath != State::normal && standing.beneath != State::returned_to_normal_unacknowledged;
}

Standing condition_appears(const Annunciation&, Standing s, Monotonic now) {
  if (s.present) return s;
  s.present = true;
  return annunciated(s, now);
}

Standing condition_ends(const Annunciation& a, Standing s, Monotonic now) {
  if (!s.present) return s;
  s.present = false;
  if (a.latching && is_suppressed(s)) s.tripped_while_suppressed = true;
  s = moved(s, after_return(a, s.beneath), now);
  return s.shelved_once ? end_shelving(s, now) : s;
}

Standing pass_time(const Annunciation& a, Standing s, Monotonic now) {
  s = end_expired_suppressions(s, now);
  if (s.silenced_until && *s.silenced_until <= now) s.silenced_until.reset();
  const bool due = shown(s) == State::acknowledged && now - s.since >= a.reannounce_after;
  return due ? annunciated(s, now) : s;
}

} // namespace oxherd::alarms
