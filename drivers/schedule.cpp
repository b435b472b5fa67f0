#include <algorithm>
#include <cassert>

#include "drivers/poll.hpp"

namespace oxherd::drivers {

std::chrono::milliseconds share_of_period(std::chrono::milliseconds every, std::size_t index, std::size_t count,
                                          std::chrono::milliseconds turn) {
  const auto devices = static_cast<std::chrono::milliseconds::rep>(std::max<std::size_t>(1, count));
  const auto turns = std::clamp<std::chrono::milliseconds::rep>(every / turn, 1, devices);
  return every * (static_cast<std::chrono::milliseconds::rep>(index) * turns / devices) / turns;
}

std::vector<ScheduleState> at_start(std::span<const Schedule> devices, std::chrono::milliseconds now,
                                    std::chrono::milliseconds turn) {
  std::vector<ScheduleState> states;
  for (std::size_t i = 0; i < devices.size(); ++i)
    states.push_back({now + share_of_period(devices[i].every, i, devices.size(), turn) - devices[i].every, 0});
  return states;
}

std::size_t next_due(std::span<const ScheduleState> states, std::size_t asked_once) {
  if (asked_once < states.size()) return asked_once;
  const auto soonest =
      std::min_element(states.begin(), states.end(), [](const auto& a, const auto& b) { return a.due < b.due; });
  return static_cast<std::size_t>(soonest - states.begin());
}

std::vector<std::size_t> due_besides(std::span<const ScheduleState> states, std::size_t asked_once, std::size_t asked,
                                     std::chrono::milliseconds now) {
  const bool is_first_round = asked_once < states.size();
  std::vector<std::size_t> besides;
  for (std::size_t i = is_first_round ? asked_once : 0; i < states.size(); ++i)
    if (i != asked && states[i].due <= now && states[i].failures_in_a_row == 0) besides.push_back(i);
  if (!is_first_round)
    std::stable_sort(besides.begin(), besides.end(), [&](auto a, auto b) { return states[a].due < states[b].due; });
  return besides;
}

ScheduleState after_poll(const Schedule& schedule, ScheduleState state, bool answered, std::chrono::milliseconds now) {
  using std::chrono::milliseconds;
  const milliseconds every = schedule.every;
  assert(every > milliseconds{0});
  state.failures_in_a_row = answered ? 0 : state.failures_in_a_row + (state.failures_in_a_row < 1000 ? 1 : 0);
  // One failure alone costs no beat: the next one is asked as usual. From the second on the pause doubles.
  const int doublings = std::clamp(state.failures_in_a_row - 1, 0, 30);
  const milliseconds::rep beats_max = std::max<milliseconds::rep>(1, schedule.back_off_max / every);
  const milliseconds::rep beats = std::min(milliseconds::rep{1} << doublings, beats_max);
  // Counted from the last beat that has passed, so that a poll longer than its period does not follow on itself.
  const milliseconds::rep passed = std::max<milliseconds::rep>(0, (now - state.due) / every);
  state.due += every * (passed + beats);
  return state;
}

} // namespace oxherd::drivers
