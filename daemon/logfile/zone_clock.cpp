#include "daemon/logfile/zone_clock.hpp"

#include <algorithm>
#include <cstdlib>

namespace oxherd::daemon::logfile {
namespace {

constexpr FileTime ms_per_s = 1000;

std::int64_t whole_seconds(FileTime time) {
  const std::int64_t down = time % ms_per_s < 0 ? 1 : 0;
  return time / ms_per_s - down;
}

} // namespace

FileTime ZoneClock::take(const Anchor& row) {
  if (before_ && before_->sure && row.sure && row.time >= before_->time)
    step_ = row.time - before_->time;
  else
    step_.reset();
  before_ = row;
  return row.time;
}

void ZoneClock::saw(FileTime time) { take({time, zone_->at(whole_seconds(time)).offset_s}); }

/// Whether the candidate is what comes after the row before; `put_back` is by how much the clocks are.
bool ZoneClock::follows(const Anchor& candidate, FileTime put_back) const {
  if (!before_) return false;
  const FileTime gap = candidate.time - before_->time;
  const bool same_offset = candidate.offset_s == before_->offset_s;
  if (!before_->sure) return !same_offset && gap > 0 && gap <= put_back / 2; // seen to step back, whatever came before
  if (gap == 0) return step_ && *step_ < put_back / 2;
  return gap > 0 && (gap <= (same_offset ? put_back : put_back / 2) || gap == step_);
}

ZoneClock::Resolved ZoneClock::resolve_twice(FileTime local, config::ZonedInstant earlier, config::ZonedInstant later) {
  const Anchor first{local - earlier.offset_s * ms_per_s, earlier.offset_s};
  const Anchor last{local - later.offset_s * ms_per_s, later.offset_s};
  const FileTime put_back = last.time - first.time;
  const bool first_follows = follows(first, put_back);
  const bool last_follows = follows(last, put_back);
  if (first_follows != last_follows) return {take(first_follows ? first : last), false};
  const bool nearer_last = before_ && std::abs(last.time - before_->time) < std::abs(first.time - before_->time);
  Anchor assumed = nearer_last ? last : first;
  assumed.sure = false;
  // A row out of order leaves the one before in its place.
  if (!before_ || !before_->sure || assumed.time > before_->time) take(assumed);
  return {assumed.time, true};
}

ZoneClock::Resolved ZoneClock::resolve(FileTime local) {
  if (local >= plain_begin_ && local < plain_end_)
    return {take({local - plain_offset_s_ * ms_per_s, plain_offset_s_}), false};
  const auto instants = zone_->instants_of(whole_seconds(local));
  if (!instants.first) return {};
  if (instants.last) return resolve_twice(local, *instants.first, *instants.last);
  // Further from the ends of the span than any two offsets are apart, no other offset can give the same local time.
  const auto span = zone_->at(instants.first->utc_s);
  plain_offset_s_ = span.offset_s;
  plain_begin_ =
      (std::max(span.begin_s, -config::OffsetSpan::ever_s / ms_per_s) + 2 * config::zone_offset_s_max) * ms_per_s;
  plain_end_ = (std::min(span.end_s, config::OffsetSpan::ever_s / ms_per_s) - 2 * config::zone_offset_s_max) * ms_per_s;
  return {take({local - plain_offset_s_ * ms_per_s, plain_offset_s_}), false};
}

} // namespace oxherd::daemon::logfile
