#include "daemon/logfile/fields.hpp"

#include <algorithm>
#include <cmath>

#include "daemon/logfile/number.hpp"

namespace oxherd::daemon::logfile {

FieldReader::FieldReader(const Layout& layout, const Format& format, const std::optional<TimeColumns>& time,
                         const std::array<std::optional<Source>, quantity_count>& sources)
    : dialect_{layout.dialect}, missing_{format.missing}, time_columns_{layout.time}, time_{time} {
  numeric_markers_ = std::any_of(missing_.begin(), missing_.end(), [&](const auto& marker) {
    return parse_number(marker, dialect_.decimal).has_value();
  });
  if (time_ && time_->zone) clock_.emplace(time_->zone);
  for (std::size_t i = 0; i < quantity_count; ++i) {
    if (layout.quantities[i] < 0 || !sources[i]) continue;
    const auto& unit = sources[i]->unit;
    const double per = 1.0 / unit.scale;
    const bool decimal = unit.scale < 1.0 && per == std::floor(per);
    columns_[i] = {layout.quantities[i], decimal, decimal ? per : unit.scale, unit.offset, sources[i]->low_si,
                   sources[i]->high_si};
  }
}

bool FieldReader::is_missing(std::string_view text) const {
  return std::find(missing_.begin(), missing_.end(), text) != missing_.end();
}

FieldValue FieldReader::value(const Row& row, Quantity quantity) {
  const Column& column = columns_[static_cast<std::size_t>(quantity)];
  auto text = row.field(static_cast<std::size_t>(column.index));
  auto number = parse_number(text, dialect_.decimal);
  if (!number) {
    text = content_of(text, dialect_, scratch_);
    number = parse_number(text, dialect_.decimal);
  }
  // A marker may be a number itself: loggers write -9999 for a probe that does not answer.
  if ((!number || numeric_markers_) && is_missing(text)) return {.trouble = Trouble::missing};
  if (!number) return {.trouble = text.empty() ? Trouble::missing : Trouble::not_a_number};
  const double si = (column.divides ? *number / column.factor : *number * column.factor) + column.offset;
  const bool inside = si >= column.low_si && si <= column.high_si;
  if (!inside) return {.trouble = Trouble::outside};
  return {.si = si, .ok = true};
}

RowTime FieldReader::time(const Row& row) {
  if (!time_) return {};
  auto text = content_of(row.field(static_cast<std::size_t>(time_columns_[0])), dialect_, scratch_);
  if (time_columns_.size() > 1) {
    joined_.assign(text);
    joined_ += ' ';
    joined_ += content_of(row.field(static_cast<std::size_t>(time_columns_[1])), dialect_, scratch_);
    text = joined_;
  }
  const auto written = time_->format.read(text);
  if (!written) return {{}, time_unreadable};
  if (!clock_ || written->offset) {
    const FileTime time = written->shown - std::chrono::milliseconds{written->offset.value_or(time_->offset)}.count();
    if (clock_) clock_->saw(time);
    return {time, {}};
  }
  const auto resolved = clock_->resolve(written->shown);
  if (!resolved.time) return {{}, time_skipped};
  return {resolved.time, resolved.doubtful ? std::optional{time_twice} : std::nullopt};
}

} // namespace oxherd::daemon::logfile
