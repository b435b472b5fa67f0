#include "daemon/logfile/ambient_follower.hpp"

#include <algorithm>
#include <limits>

#include "daemon/logfile/table_start.hpp"

namespace oxherd::daemon::logfile {

void Trace::push(FileTime time, double si) {
  if (points_.empty()) points_.resize(kept);
  points_[end_ % kept] = {time, si};
  ++end_;
}

std::optional<double> Trace::nearest(FileTime time, std::int64_t gap_ms) {
  if (end_ == 0) return std::nullopt;
  const std::uint64_t oldest = end_ > kept ? end_ - kept : 0;
  std::uint64_t i = std::clamp(cursor_, oldest, end_ - 1);
  while (i + 1 < end_ && at(i + 1).time <= time) ++i;
  while (i > oldest && at(i).time > time) --i;
  cursor_ = i;
  // `i` is the last point not after `time`, or the oldest there is.
  if (i + 1 < end_ && at(i + 1).time - time < time - at(i).time) ++i;
  const std::int64_t distance = time > at(i).time ? time - at(i).time : at(i).time - time;
  if (distance > gap_ms) return std::nullopt;
  return at(i).si;
}

AmbientFollower::AmbientFollower(std::string name, std::unique_ptr<FileSource> source)
    : name_{std::move(name)}, source_{std::move(source)}, rows_{*source_, name_} {}

tl::expected<std::unique_ptr<AmbientFollower>, Failure> AmbientFollower::open(const Recipe& recipe) {
  const auto name = recipe.ambient->file.string();
  auto source = FileSource::open(name);
  if (!source) return tl::unexpected(source.error());
  auto follower = std::unique_ptr<AmbientFollower>{new AmbientFollower{name, std::move(*source)}};
  if (const auto started = follower->start(recipe); !started) return tl::unexpected(started.error());
  return follower;
}

tl::expected<void, Failure> AmbientFollower::start(const Recipe& recipe) {
  gap_ms_ = recipe.ambient->max_gap.count();
  const auto text = rows_.first_bytes();
  if (!text) return tl::unexpected(text.error());
  const auto layout = find_layout(*text, name_, recipe.ambient->format, wanted_of(recipe, Source::From::ambient));
  if (!layout) return tl::unexpected(layout.error());
  layout_ = *layout;
  fields_.emplace(layout_, recipe.ambient->format, recipe.ambient->time, recipe.sources);
  return pass_start(rows_, layout_, row_, [](const Row&, LineKind) {});
}

void AmbientFollower::take(const Row& row) {
  if (is_no_row(row, layout_.dialect)) return;
  ++counts_.rows;
  const bool whole = !row.too_long && !row.open_quote && row.fields.size() == layout_.columns;
  const auto [time, trouble] = whole ? fields_->time(row) : RowTime{};
  if (!time || trouble) {
    if (counts_.unreadable++ == 0) counts_.unreadable_line = row.line;
    return;
  }
  if (newest_ && *time <= *newest_) {
    if (counts_.not_increasing++ == 0) counts_.not_increasing_line = row.line;
    return;
  }
  newest_ = *time;
  for (const auto quantity : all_quantities) {
    if (!fields_->has(quantity)) continue;
    const auto value = fields_->value(row, quantity);
    if (value.ok) traces_[static_cast<std::size_t>(quantity)].push(*time, value.si);
  }
}

tl::expected<void, Failure> AmbientFollower::read_until(FileTime time) {
  while (!at_end_ && (!newest_ || *newest_ < time)) {
    const auto more = rows_.next(row_);
    if (!more) return tl::unexpected(more.error());
    at_end_ = !*more;
    if (*more) take(row_);
  }
  return {};
}

tl::expected<FieldValue, Failure> AmbientFollower::value(Quantity quantity, FileTime time) {
  // As far as a value could count: the nearest row may lack this one.
  if (const auto read = read_until(time + gap_ms_); !read) return tl::unexpected(read.error());
  const auto si = traces_[static_cast<std::size_t>(quantity)].nearest(time, gap_ms_);
  if (!si) return FieldValue{.trouble = Trouble::too_far};
  return FieldValue{.si = *si, .ok = true};
}

tl::expected<void, Failure> AmbientFollower::finish() { return read_until(std::numeric_limits<FileTime>::max()); }

} // namespace oxherd::daemon::logfile
