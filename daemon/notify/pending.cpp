#include "daemon/notify/pending.hpp"

#include <algorithm>

namespace oxherd::daemon::notify {

using std::chrono::seconds;

Pending left_over(Parcel parcel, Now now) {
  Pending one;
  one.taken = now.mono;
  one.age_then = std::max<Monotonic>(Monotonic{0}, now.wall - parcel.created);
  one.parcel = std::move(parcel);
  return one;
}

Monotonic back_off(unsigned tries) {
  return std::min<Monotonic>(seconds{60}, seconds{1LL << std::min(tries - 1U, 6U)});
}

Slots::Slots(const std::deque<Pending>& pending) {
  for (const auto& one : pending)
    if (one.running) take(one.parcel);
}

bool Slots::have_room_for(const Parcel& parcel) const {
  const auto route = by_route_.find(parcel.route);
  if (route != by_route_.end() && route->second >= at_once_by_a_route) return false;
  const auto line = by_line_.find({parcel.route, parcel.contact});
  return line == by_line_.end() || line->second < at_once_to_a_contact;
}

void Slots::take(const Parcel& parcel) {
  ++by_route_[parcel.route];
  ++by_line_[{parcel.route, parcel.contact}];
}

std::vector<Pending*> to_begin(std::deque<Pending>& pending, Monotonic now) {
  std::vector<Pending*> due;
  for (auto& one : pending)
    if (!one.running && now >= one.next_try) due.push_back(&one);
  std::stable_sort(due.begin(), due.end(), [](const Pending* a, const Pending* b) {
    if (a->parcel.urgent != b->parcel.urgent) return a->parcel.urgent;
    return a->parcel.tries < b->parcel.tries;
  });
  Slots slots{pending};
  std::vector<Pending*> begun;
  for (auto* one : due) {
    if (!slots.have_room_for(one->parcel)) continue;
    slots.take(one->parcel);
    begun.push_back(one);
  }
  return begun;
}

std::optional<Monotonic> starved_since(const Pending& pending, Monotonic line_worked_at, Monotonic report_after,
                                       Monotonic now) {
  if (pending.running || pending.parcel.tries > 0) return std::nullopt;
  const auto since = std::max(pending.taken, line_worked_at);
  if (now - since < report_after) return std::nullopt;
  return since;
}

} // namespace oxherd::daemon::notify
