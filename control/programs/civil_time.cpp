#include "control/programs/civil_time.hpp"

namespace oxherd::control {
namespace {

/// The first instant after `low` and up to `high` at which the new offset holds.
WallTime moment_of_change(const OffsetAt& offset_at, WallTime low, WallTime high, std::chrono::seconds new_offset) {
  while (high - low > std::chrono::milliseconds{1}) {
    const auto middle = low + (high - low) / 2;
    (offset_at(middle) == new_offset ? high : low) = middle;
  }
  return high;
}

} // namespace

LocalTime local_time(const OffsetAt& offset_at, WallTime at) {
  return LocalTime{at.time_since_epoch() + offset_at(at)};
}

WallTime first_instant_of(const OffsetAt& offset_at, LocalTime local) {
  const WallTime as_if_utc{local.time_since_epoch()};
  const auto before = offset_at(as_if_utc - std::chrono::hours{24}); // no offset is as large as a day
  const auto behind = offset_at(as_if_utc + std::chrono::hours{24});
  const auto by_old = as_if_utc - before, by_new = as_if_utc - behind;
  if (offset_at(by_old) == before) return by_old;
  if (offset_at(by_new) == behind) return by_new;
  return moment_of_change(offset_at, by_new, by_old, behind);
}

} // namespace oxherd::control
