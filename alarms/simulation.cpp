#include "alarms/simulation.hpp"

#include <fmt/format.h>

#include "alarms/suppression.hpp"

namespace oxherd::alarms {

tl::expected<Simulation, Refusal> begin_test(const Annunciation& a, const Delays& delays, const Standing& standing,
                                             bool under_test, Monotonic duration, Monotonic now) {
  const auto refuse = [](std::string text) { return tl::unexpected(Refusal{std::move(text)}); };
  if (under_test) return refuse("the alarm is being tested already: end that test first");
  if (is_suppressed(standing))
    return refuse("the alarm is suppressed: a test would be announced to nobody; lift the suppression first");
  if (shown(standing) != State::normal)
    return refuse("the alarm is not normal: a test must not be mistaken for what stands there; deal with that first");
  if (duration > a.test_at_most)
    return refuse(
        fmt::format("{} is too long for a test: give at most {}", in_words(duration), in_words(a.test_at_most)));
  if (duration <= delays.on)
    return refuse(fmt::format("the alarm comes after {}: give the test more time than that", in_words(delays.on)));
  return Simulation{Phase::clear, now, now + duration};
}

} // namespace oxherd::alarms
