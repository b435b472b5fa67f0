#include "alarms/suppression.hpp"

#include <chrono>
#include <string>
#include <utility>

#include <fmt/format.h>

namespace oxherd::alarms {

namespace {

void lift_shelving(Standing& s) {
  s.shelved_until.reset();
  s.shelved_once = false;
}

/// After flags changed: dates a change that a person sees and, if the last suppression was lifted, brings its end.
Standing settled(const Standing& before, Standing s, Monotonic now) {
  if (is_suppressed(before) && !is_suppressed(s)) {
    const bool latched = s.beneath == State::latched_unacknowledged || s.beneath == State::latched_acknowledged;
    if (s.present)
      s.beneath = State::unacknowledged;
    else if (!latched)
      s.beneath = State::normal;
    s.tripped_while_suppressed = false;
    s.silenced_until.reset();
  }
  if (shown(s) != shown(before)) s.since = now;
  return s;
}

tl::unexpected<Refusal> refuse(std::string text) { return tl::unexpected(Refusal{std::move(text)}); }

/// Nothing when time and reason are in order.
std::optional<std::string> objection(Monotonic duration, Monotonic at_most, std::string_view reason) {
  if (is_blank(reason)) return "a reason is needed: say why, for those who look after the room meanwhile";
  if (duration <= Monotonic{0}) return fmt::format("a time is needed: give one of at most {}", in_words(at_most));
  if (duration > at_most) return fmt::format("{} is too long: give at most {}", in_words(duration), in_words(at_most));
  return std::nullopt;
}

} // namespace

bool is_blank(std::string_view text) { return text.find_first_not_of(" \t\r\n") == std::string_view::npos; }

std::string in_words(Monotonic duration) {
  using namespace std::chrono;
  const auto h = duration_cast<hours>(duration);
  const auto min = duration_cast<minutes>(duration - h);
  const std::chrono::duration<double> s = duration - h - min;
  std::string text;
  if (h.count() != 0) text += fmt::format("{} h ", h.count());
  if (min.count() != 0) text += fmt::format("{} min ", min.count());
  if (s.count() != 0 || text.empty()) text += fmt::format("{} s ", s.count());
  text.pop_back();
  return text;
}

bool is_suppressed(const Standing& standing) {
  return standing.shelved_until || standing.suppressed_by_design || standing.out_of_service_until;
}

Standing end_shelving(Standing s, Monotonic now) {
  const Standing before = s;
  lift_shelving(s);
  return settled(before, s, now);
}

Standing end_expired_suppressions(Standing s, Monotonic now) {
  const Standing before = s;
  if (s.shelved_until && *s.shelved_until <= now) lift_shelving(s);
  if (s.out_of_service_until && *s.out_of_service_until <= now) s.out_of_service_until.reset();
  return settled(before, s, now);
}

tl::expected<Standing, Refusal> shelve(const Annunciation& a, Standing s, Monotonic duration, std::string_view reason,
                                       Monotonic now, bool once) {
  if (a.safety)
    return refuse("a safety alarm cannot be shelved: take it out of service with a reason and a time, and use a "
                  "certified monitor meanwhile");
  if (s.shelved_until)
    return refuse("the alarm is shelved already: unshelve it first, then shelve it for the new time");
  if (auto problem = objection(duration, a.shelve_at_most, reason)) return refuse(std::move(*problem));
  const Standing before = s;
  s.shelved_until = now + duration;
  s.shelved_once = once;
  return settled(before, s, now);
}

tl::expected<Standing, Refusal> unshelve(const Annunciation&, Standing s, Monotonic now) {
  if (!s.shelved_until) return refuse("the alarm is not shelved: there is nothing to unshelve");
  return end_shelving(s, now);
}

tl::expected<Standing, Refusal> suppress_by_design(const Annunciation& a, Standing s, bool on, Monotonic now) {
  if (on && a.safety)
    return refuse("a safety alarm cannot be suppressed by design: take this alarm out of the suppressing logic");
  const Standing before = s;
  s.suppressed_by_design = on;
  return settled(before, s, now);
}

tl::expected<Standing, Refusal> remove_from_service(const Annunciation& a, Standing s, Monotonic duration,
                                                    std::string_view reason, Monotonic now) {
  if (s.out_of_service_until)
    return refuse("the alarm is out of service already: return it to service first, then remove it for the new time");
  if (auto problem = objection(duration, a.out_of_service_at_most, reason)) return refuse(std::move(*problem));
  const Standing before = s;
  s.out_of_service_until = now + duration;
  return settled(before, s, now);
}

tl::expected<Standing, Refusal> return_to_service(const Annunciation&, Standing s, Monotonic now) {
  if (!s.out_of_service_until) return refuse("the alarm is in service: there is nothing to return");
  const Standing before = s;
  s.out_of_service_until.reset();
  return settled(before, s, now);
}

} // namespace oxherd::alarms
