#include <algorithm>
#include <cassert>

#include "control/loops/switching.hpp"

namespace oxherd::control {

StaggerStep next(const Stagger& rule, StaggerState state, std::span<const Member> members, Monotonic now) {
  assert(rule.gap >= Monotonic{0});
  if (state.waiting_since.size() != members.size()) state.waiting_since.assign(members.size(), std::nullopt);

  StaggerStep step{std::move(state), {}};
  std::vector<std::size_t> queue; // those that could start but for the others
  for (std::size_t i = 0; i < members.size(); ++i) {
    const auto& member = members[i];
    step.members.push_back(next(member.rule, member.state, member.want, now));
    const bool starts = step.members[i].state.on && !member.state.on;
    auto& waiting = step.state.waiting_since[i];
    if (!starts || member.want.urgent)
      waiting.reset();
    else if (!waiting)
      waiting = now;
    if (starts && member.want.urgent) step.state.last_start = now;
    if (waiting) queue.push_back(i);
  }
  std::stable_sort(queue.begin(), queue.end(), [&](std::size_t a, std::size_t b) {
    return *step.state.waiting_since[a] < *step.state.waiting_since[b];
  });

  auto turn = now; // of the next in the queue
  if (step.state.last_start) turn = std::max(now, *step.state.last_start + rule.gap);
  for (const auto i : queue) {
    if (turn <= now) { // it is switched on already
      step.state.last_start = now;
      step.state.waiting_since[i].reset();
    } else {
      step.members[i] = {members[i].state, HeldBack{Held::others, turn}, false, turn};
    }
    turn += rule.gap;
  }
  return step;
}

} // namespace oxherd::control
