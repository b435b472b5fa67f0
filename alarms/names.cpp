// The spellings that records, messages and settings share.
#include <array>
#include <cstdlib>

#include "alarms/alarm.hpp"
#include "alarms/annunciation.hpp"

namespace oxherd::alarms {

namespace {
constexpr std::array all_states{State::normal,
                                State::unacknowledged,
                                State::acknowledged,
                                State::returned_to_normal_unacknowledged,
                                State::latched_unacknowledged,
                                State::latched_acknowledged,
                                State::shelved,
                                State::suppressed_by_design,
                                State::out_of_service};
constexpr std::array all_acts{
    Act::acknowledge,         Act::silence,           Act::reset, Act::shelve,  Act::shelve_once, Act::unshelve,
    Act::remove_from_service, Act::return_to_service, Act::test,  Act::end_test};
constexpr std::array all_priorities{Priority::low, Priority::medium, Priority::high, Priority::critical};
} // namespace

std::string_view name_of(State state) {
  switch (state) {
  case State::normal: return "normal";
  case State::unacknowledged: return "unacknowledged";
  case State::acknowledged: return "acknowledged";
  case State::returned_to_normal_unacknowledged: return "returned_to_normal_unacknowledged";
  case State::latched_unacknowledged: return "latched_unacknowledged";
  case State::latched_acknowledged: return "latched_acknowledged";
  case State::shelved: return "shelved";
  case State::suppressed_by_design: return "suppressed_by_design";
  case State::out_of_service: return "out_of_service";
  }
  std::abort(); // not one of the states: memory is corrupt, stop loudly
}

std::optional<State> state_named(std::string_view name) {
  for (const State state : all_states)
    if (name_of(state) == name) return state;
  return std::nullopt;
}

std::string_view name_of(Priority priority) {
  switch (priority) {
  case Priority::low: return "low";
  case Priority::medium: return "medium";
  case Priority::high: return "high";
  case Priority::critical: return "critical";
  }
  std::abort();
}

std::optional<Priority> priority_named(std::string_view name) {
  for (const Priority priority : all_priorities)
    if (name_of(priority) == name) return priority;
  return std::nullopt;
}

std::string_view name_of(Act act) {
  switch (act) {
  case Act::acknowledge: return "acknowledge";
  case Act::silence: return "silence";
  case Act::reset: return "reset";
  case Act::shelve: return "shelve";
  case Act::shelve_once: return "shelve_once";
  case Act::unshelve: return "unshelve";
  case Act::remove_from_service: return "remove_from_service";
  case Act::return_to_service: return "return_to_service";
  case Act::test: return "test";
  case Act::end_test: return "end_test";
  }
  std::abort();
}

std::optional<Act> act_named(std::string_view name) {
  for (const Act act : all_acts)
    if (name_of(act) == name) return act;
  return std::nullopt;
}

std::string_view name_of(Cause cause) {
  switch (cause) {
  case Cause::condition: return "condition";
  case Cause::returned: return "returned";
  case Cause::acknowledge: return "acknowledge";
  case Cause::reset: return "reset";
  case Cause::re_annunciation: return "re_annunciation";
  case Cause::shelve: return "shelve";
  case Cause::suppression: return "suppression";
  case Cause::service: return "service";
  case Cause::timer: return "timer";
  case Cause::test: return "test";
  }
  std::abort();
}

} // namespace oxherd::alarms
