#include "daemon/rehearse/csv_data.hpp"

#include <algorithm>
#include <set>

#include <fmt/format.h>

#include "daemon/logfile/number.hpp"
#include "daemon/logfile/table_start.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon::rehearse {
namespace {

using alarms::Status;
using logfile::Failure;

/// What quality and status columns say; words that nobody knows are bad, since they may mean anything, and so is
/// nothing at all in a table that has such a column.
Status status_of(std::string_view quality, std::string_view status) {
  if (const auto named = alarms::status_named(status)) return *named;
  if (!status.empty()) return Status::failure;
  if (quality == "good") return Status::ok;
  return quality == "uncertain" ? Status::out_of_specification : Status::failure;
}

Span span_of(config::Measurand gas) {
  return gas == config::Measurand::carbon_dioxide ? carbon_dioxide_span : oxygen_span;
}

} // namespace

CsvData::CsvData(std::unique_ptr<logfile::ByteSource> bytes, const std::string& file)
    : bytes_{std::move(bytes)}, rows_{*bytes_, file}, missing_{logfile::Format{}.missing} {
  notes_.source = file;
}

tl::expected<std::unique_ptr<CsvData>, Failure> CsvData::open(const std::string& file, const CsvWanted& wanted) {
  auto source = logfile::FileSource::open(file);
  if (!source) return tl::unexpected(source.error());
  const auto* opened = source->get();
  auto data = read(std::move(*source), file == "-" ? "standard input" : file, wanted);
  if (data) (*data)->file_ = opened;
  return data;
}

tl::expected<std::unique_ptr<CsvData>, Failure> CsvData::read(std::unique_ptr<logfile::ByteSource> bytes,
                                                              const std::string& file, const CsvWanted& wanted) {
  auto data = std::unique_ptr<CsvData>{new CsvData{std::move(bytes), file}};
  if (const auto started = data->start(file, wanted); !started) return tl::unexpected(started.error());
  return data;
}

tl::expected<void, Failure> CsvData::start(const std::string& file, const CsvWanted& wanted) {
  const auto first = rows_.first_bytes();
  if (!first) return tl::unexpected(first.error());
  auto layout = find_csv_layout(*first, file, wanted);
  if (!layout) return tl::unexpected(layout.error());
  layout_ = std::move(*layout);
  std::set<std::string> rooms;
  for (const auto& channel : layout_.channels) rooms.insert(channel.room);
  newest_.resize(layout_.is_long ? rooms.size() : 1);
  times_.emplace(layout_.table, logfile::Format{}, layout_.time,
                 std::array<std::optional<logfile::Source>, logfile::quantity_count>{});
  if (!layout_.not_used.empty()) notes_.said.push_back(fmt::format("not used: {}", fmt::join(layout_.not_used, ", ")));
  if (!layout_.states_offset && !layout_.time.zone_stated)
    notes_.said.emplace_back("its times state no offset and were taken as UTC; --zone says otherwise");
  for (std::size_t i = 0; i < layout_.channels.size(); ++i) {
    const auto& columns = layout_.columns[i];
    const auto name = layout_.channels[i].room + "/" + layout_.channels[i].sensor;
    if (columns.u >= 0) continue;
    if (columns.u_assumed > 0.0)
      notes_.said.push_back(
          fmt::format("no column gives the uncertainty of {}: that of the sensor in the rules is taken", name));
    else
      notes_.said.push_back(fmt::format("no column gives the uncertainty of {}: judged as if it were exact. The daemon "
                                        "judges at the unfavourable end of the uncertainty and alarms earlier",
                                        name));
  }
  return logfile::pass_start(rows_, layout_.table, row_, [](const logfile::Row&, logfile::LineKind) {});
}

std::optional<double> CsvData::part() const {
  if (!file_ || !file_->size() || *file_->size() == 0) return std::nullopt;
  return static_cast<double>(file_->bytes_read()) / static_cast<double>(*file_->size());
}

void CsvData::note(Troubles& troubles, std::string what) const {
  if (troubles.count++ == 0) troubles.first = fmt::format("line {}: {}", row_.line, what);
}

std::string_view CsvData::text(int column) {
  return column < 0
             ? std::string_view{}
             : logfile::content_of(row_.field(static_cast<std::size_t>(column)), layout_.table.dialect, scratch_);
}

std::optional<double> CsvData::number(int column, const compensation::Unit& unit, Span span, Sample& sample) {
  if (column < 0) return std::nullopt;
  const auto decimal = layout_.table.dialect.decimal;
  auto field = row_.field(static_cast<std::size_t>(column));
  auto value = logfile::parse_number(field, decimal);
  if (!value) {
    field = text(column);
    if (std::find(missing_.begin(), missing_.end(), field) != missing_.end()) return std::nullopt;
    value = logfile::parse_number(field, decimal);
  }
  if (value) {
    const double si = compensation::to_si(unit, *value);
    if (si >= span.low && si <= span.high) return si;
  }
  note(notes_.not_numbers,
       fmt::format("\"{}\" in \"{}\" is {}", field, layout_.table.names[static_cast<std::size_t>(column)],
                   value ? "beyond what any room has: is the unit right?" : "no number"));
  sample.reason = value ? "recorded value beyond what any room has" : "recorded value is no number";
  return std::nullopt;
}

std::optional<double> CsvData::beside(int column, const compensation::Unit& unit, Span span, Sample& sample) {
  if (column < 0 || !sample.value) return std::nullopt;
  const auto found = number(column, unit, span, sample);
  if (found) return found;
  sample.value.reset(); // a value without it can be held against no limit
  if (sample.reason.empty())
    sample.reason = fmt::format("no \"{}\" recorded", layout_.table.names[static_cast<std::size_t>(column)]);
  return std::nullopt;
}

void CsvData::take_sample(const CsvChannel& columns, std::size_t channel, SamplesAt& to) {
  Sample& sample = to.samples.emplace_back();
  sample.channel = channel;
  if (columns.quality >= 0 || columns.status >= 0)
    sample.status = status_of(text(columns.quality), text(columns.status));
  if (sample.status != Status::ok) sample.reason = text(columns.reason);
  sample.value = number(columns.value, columns.unit, span_of(layout_.channels[channel].gas), sample);
  if (!sample.value && sample.reason.empty()) sample.reason = "no value recorded";
  sample.u = columns.u >= 0 ? beside(columns.u, columns.u_unit, {0.0, 1.0}, sample).value_or(0.0) : columns.u_assumed;
  sample.po2_Pa = beside(columns.po2, columns.po2_unit, pressure_span, sample);
  const int u_po2_column = columns.po2 >= 0 ? columns.u_po2 : -1;
  if (const auto u_po2 = beside(u_po2_column, columns.u_po2_unit, {0.0, pressure_span.high}, sample))
    sample.u_po2_Pa = *u_po2;
  else if (sample.po2_Pa && sample.value && *sample.value > 0.0)
    sample.u_po2_Pa = *sample.po2_Pa * sample.u / *sample.value;
  if (!sample.value || alarms::quality_of(sample.status) == alarms::Quality::bad) ++notes_.bad_samples;
}

/// Takes the time of the row, which must not be before what came before it in the same order.
bool CsvData::take_time(std::size_t order, WallTime& at) {
  const auto read = times_->time(row_);
  if (!read.time || (read.trouble && *read.trouble != logfile::time_twice)) {
    note(notes_.unreadable, "no time that could be read");
    return false;
  }
  at = WallTime{std::chrono::milliseconds{*read.time}};
  auto& newest = newest_[order];
  if (newest && at < *newest) {
    if (!layout_.is_long || *newest - at > late_at_most) {
      note(notes_.backwards, fmt::format("{} after {}", rfc3339(at), rfc3339(*newest)));
      return false;
    }
    ++notes_.moved;
    at = *newest;
  }
  newest = at;
  return true;
}

bool CsvData::take(SamplesAt& to) {
  if (logfile::is_no_row(row_, layout_.table.dialect)) return false;
  if (row_.unfinished) return false; // its last piece counts
  ++notes_.rows;
  if (row_.too_long || row_.open_quote || row_.fields.size() != layout_.table.columns) {
    note(notes_.unreadable, fmt::format("{} fields instead of {}", row_.fields.size(), layout_.table.columns));
    return false;
  }
  to.samples.clear();
  if (!layout_.is_long) {
    if (!take_time(0, to.at)) return false;
    for (std::size_t i = 0; i < layout_.channels.size(); ++i) take_sample(layout_.columns[i], i, to);
    return true;
  }
  std::pair<std::string, std::string> name{layout_.only_room ? *layout_.only_room : std::string{text(layout_.room)},
                                           {}};
  name.second = text(layout_.sensor);
  const auto found = layout_.by_name.find(name);
  if (found == layout_.by_name.end()) return false;
  std::size_t order = 0; // of the rooms, as they come among the channels
  for (std::size_t i = 1; i <= found->second; ++i)
    if (layout_.channels[i].room != layout_.channels[i - 1].room) ++order;
  if (!take_time(order, to.at)) return false;
  take_sample(layout_.columns[found->second], found->second, to);
  return true;
}

tl::expected<bool, Failure> CsvData::next(SamplesAt& to) {
  for (;;) {
    const auto more = rows_.next(row_);
    if (!more) return tl::unexpected(more.error());
    if (!*more) return false;
    if (take(to)) return true;
  }
}

} // namespace oxherd::daemon::rehearse
