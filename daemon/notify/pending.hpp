#pragma once

#include <deque>
#include <map>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "daemon/notify/escalation.hpp"
#include "daemon/notify/parcel.hpp"

// Which of the parcels that wait is tried next, and for how long one has waited. Pure.
namespace oxherd::daemon::notify {

inline constexpr int at_once_by_a_route = 4;
/// Of these, so that a receiver that hangs holds up no other.
inline constexpr int at_once_to_a_contact = 2;

/// A parcel that no route has taken yet. Its age runs on the monotonic clock: a step of the civil one must neither end
/// it nor keep it for ever.
struct Pending {
  Parcel parcel;
  Monotonic taken{0};    ///< when this run took it up
  Monotonic age_then{0}; ///< how old it was then
  bool running = false;
  Monotonic next_try{0};
};
[[nodiscard]] inline Monotonic age_of(const Pending& p, Monotonic now) { return now - p.taken + p.age_then; }
/// What an earlier run left; one from the future is as old as if it came now.
[[nodiscard]] Pending left_over(Parcel parcel, Now now);

/// 1, 2, 4 ... 60 s after the first, second, third ... failure.
[[nodiscard]] Monotonic back_off(unsigned tries);

/// How much of each route is taken.
class Slots {
public:
  explicit Slots(const std::deque<Pending>& pending);
  [[nodiscard]] bool have_room_for(const Parcel& parcel) const;
  void take(const Parcel& parcel);

private:
  std::map<std::string, int> by_route_;
  std::map<std::pair<std::string, std::string>, int> by_line_; ///< route, contact
};

/// Those to be begun now, from parcels in the order in which they came: what cannot wait first, of that what was tried
/// least, of that the oldest. So many dead receivers keep nobody from a first attempt.
[[nodiscard]] std::vector<Pending*> to_begin(std::deque<Pending>& pending, Monotonic now);

/// Since when a parcel has waited for its first attempt while its line took nothing, once that is `report_after`.
[[nodiscard]] std::optional<Monotonic> starved_since(const Pending& pending, Monotonic line_worked_at,
                                                     Monotonic report_after, Monotonic now);

} // namespace oxherd::daemon::notify
