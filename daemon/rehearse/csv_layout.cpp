#include "daemon/rehearse/csv_layout.hpp"

#include <algorithm>
#include <set>

#include <fmt/format.h>

#include "config/nearest.hpp"
#include "config/zone_file.hpp"
#include "daemon/logfile/table_shape.hpp"
#include "daemon/logfile/time_guess.hpp"
#include "daemon/rehearse/fitting.hpp"

namespace oxherd::daemon::rehearse {
namespace {

using config::Measurand;
using logfile::Failure;
using logfile::TableShape;

/// Finds the layout of one table; everything it says names the file.
class Finder {
public:
  Finder(const TableShape& shape, const std::string& file, const CsvWanted& wanted)
      : shape_{shape}, file_{file}, wanted_{wanted} {}
  [[nodiscard]] tl::expected<CsvLayout, Failure> find();

private:
  [[nodiscard]] tl::unexpected<Failure> refuse(std::string_view what) const {
    return tl::unexpected(Failure{fmt::format("{}: {}", file_, what)});
  }
  [[nodiscard]] tl::expected<void, Failure> find_time();
  [[nodiscard]] std::optional<logfile::TimeGuess> time_by_format() const;
  [[nodiscard]] tl::expected<void, Failure> read_names();
  [[nodiscard]] tl::expected<void, Failure> find_long();
  [[nodiscard]] tl::expected<void, Failure> find_wide();
  [[nodiscard]] tl::expected<std::size_t, Failure> channel_of(const ColumnMeaning& meaning, const std::string& column);
  [[nodiscard]] tl::expected<compensation::Unit, Failure> unit_of(int column, Measurand gas) const;
  [[nodiscard]] tl::expected<void, Failure> take_units(CsvChannel& columns, Measurand gas) const;
  [[nodiscard]] tl::expected<void, Failure> place(const ColumnMeaning& meaning, int column);
  [[nodiscard]] std::optional<std::string> plain_room() const;
  [[nodiscard]] std::optional<DataChannel> named_channel(const ColumnMeaning& meaning) const;
  void take_periods();
  [[nodiscard]] int column_with(Role role, std::optional<Measurand> gas = std::nullopt) const;
  [[nodiscard]] std::string list_of_columns() const;

  const TableShape& shape_;
  const std::string& file_;
  const CsvWanted& wanted_;
  std::vector<ColumnMeaning> meanings_;
  CsvLayout layout_;
};

std::string Finder::list_of_columns() const {
  std::vector<std::string> names;
  for (const auto& name : shape_.names) names.push_back(fmt::format("\"{}\"", name));
  return fmt::format("{}", fmt::join(names, ", "));
}

std::optional<logfile::TimeGuess> Finder::time_by_format() const {
  auto format = logfile::TimeFormat::make(*wanted_.time_format);
  if (!format) return std::nullopt;
  const auto reads = [&](std::size_t i, bool pair) {
    return !shape_.rows.empty() && std::all_of(shape_.rows.begin(), shape_.rows.end(), [&](const auto& row) {
      return format->read(pair ? row[i] + ' ' + row[i + 1] : row[i]).has_value();
    });
  };
  for (std::size_t i = 0; i < shape_.names.size(); ++i) {
    if (reads(i, false)) return logfile::TimeGuess{{i}, {*wanted_.time_format}, false, false};
    if (i + 1 < shape_.names.size() && reads(i, true))
      return logfile::TimeGuess{{i, i + 1}, {*wanted_.time_format}, false, false};
  }
  return std::nullopt;
}

tl::expected<void, Failure> Finder::find_time() {
  const auto guess = wanted_.time_format ? time_by_format() : logfile::guess_time(shape_);
  if (!guess && wanted_.time_format)
    return refuse(fmt::format("no column has times of the format \"{}\" in every row; the columns are {}",
                              *wanted_.time_format, list_of_columns()));
  if (!guess)
    return refuse(
        fmt::format("no column was found that holds the time of every row; write times as "
                    "2026-03-02T06:59:00Z, or name their format with --time-format \"%d.%m.%Y %H:%M:%S\". The "
                    "columns are {}",
                    list_of_columns()));
  if (guess->formats.size() > 1)
    return refuse(
        fmt::format("its times can be read as {}; say which with --time-format", fmt::join(guess->formats, " or as ")));
  auto format = logfile::TimeFormat::make(guess->formats.front());
  if (!format) return refuse(format.error());
  layout_.time.format = *format;
  layout_.states_offset = guess->states_offset || guess->named_utc;
  for (const auto column : guess->columns) layout_.table.time.push_back(static_cast<int>(column));
  if (!wanted_.zone) return {};
  layout_.time.zone_stated = true;
  if (const auto offset = logfile::offset_named(*wanted_.zone)) {
    layout_.time.offset = *offset;
    return {};
  }
  auto zone = config::load_zone(*wanted_.zone);
  if (!zone) return tl::unexpected(Failure{"--zone: " + zone.error()});
  layout_.time.zone = std::move(*zone);
  return {};
}

tl::expected<void, Failure> Finder::read_names() {
  for (std::size_t i = 0; i < shape_.names.size(); ++i) {
    const auto& times = layout_.table.time;
    const bool is_time = std::find(times.begin(), times.end(), static_cast<int>(i)) != times.end();
    meanings_.push_back(is_time ? ColumnMeaning{}
                                : meaning_of(shape_.names[i], shape_.units.empty() ? "" : shape_.units[i]));
  }
  return {};
}

int Finder::column_with(Role role, std::optional<Measurand> gas) const {
  for (std::size_t i = 0; i < meanings_.size(); ++i)
    if (meanings_[i].role == role && (!gas || meanings_[i].gas == gas) && meanings_[i].sensor.empty())
      return static_cast<int>(i);
  return -1;
}

/// The room of columns that name none.
std::optional<std::string> Finder::plain_room() const {
  if (wanted_.room) return wanted_.room;
  return wanted_.rooms.size() == 1 ? std::optional{wanted_.rooms.front().name} : std::nullopt;
}

/// The channel that a column names by "room/sensor" or "sensor"; nothing when the rules know none of that name.
std::optional<DataChannel> Finder::named_channel(const ColumnMeaning& meaning) const {
  const auto slash = meaning.sensor.find('/');
  const auto room_name = slash == meaning.sensor.npos ? plain_room().value_or("") : meaning.sensor.substr(0, slash);
  const auto sensor = slash == meaning.sensor.npos ? meaning.sensor : meaning.sensor.substr(slash + 1);
  if (wanted_.room && room_name != *wanted_.room) return std::nullopt;
  for (const auto& room : wanted_.rooms) {
    if (room.name != room_name) continue;
    const auto* known = sensor_named(room, sensor);
    if (known != nullptr && gas_of(*known)) return DataChannel{room_name, sensor, *gas_of(*known), known->every};
    const bool made_up = known == nullptr && !has_gas_sensors(room) && slash != meaning.sensor.npos;
    if (made_up) return DataChannel{room_name, sensor, meaning.gas.value_or(Measurand::oxygen)};
  }
  return std::nullopt;
}

tl::expected<std::size_t, Failure> Finder::channel_of(const ColumnMeaning& meaning, const std::string& column) {
  std::optional<DataChannel> channel;
  if (!meaning.sensor.empty()) {
    channel = named_channel(meaning);
    if (!channel) {
      layout_.not_used.push_back(column);
      return layout_.channels.size();
    }
  } else {
    const auto room = plain_room();
    if (!room)
      return refuse(fmt::format("the rules have several rooms, and \"{}\" does not say which it is of: name one with "
                                "--room, or call the column \"ROOM/SENSOR [%]\"",
                                column));
    const auto gas = meaning.gas.value_or(Measurand::oxygen);
    channel = DataChannel{*room, only_sensor_for(wanted_.rooms, *room, gas), gas};
  }
  const auto same = std::find_if(layout_.channels.begin(), layout_.channels.end(), [&](const DataChannel& c) {
    return c.room == channel->room && c.sensor == channel->sensor && c.gas == channel->gas;
  });
  if (same != layout_.channels.end()) return static_cast<std::size_t>(same - layout_.channels.begin());
  layout_.channels.push_back(*channel);
  auto& columns = layout_.columns.emplace_back();
  columns.u_assumed = stated_u(wanted_.rooms, *channel);
  return layout_.channels.size() - 1;
}

tl::expected<void, Failure> Finder::place(const ColumnMeaning& meaning, int column) {
  const auto& name = shape_.names[static_cast<std::size_t>(column)];
  const bool for_all = meaning.sensor.empty() && !meaning.gas;
  if (meaning.role == Role::none ||
      (for_all && meaning.role != Role::quality && meaning.role != Role::status && meaning.role != Role::reason)) {
    if (meaning.role == Role::none && std::count(layout_.table.time.begin(), layout_.table.time.end(), column) == 0 &&
        !name.empty())
      layout_.not_used.push_back(name);
    return {};
  }
  if (for_all) return {}; // given to every channel later
  const auto at = channel_of(meaning, name);
  if (!at) return tl::unexpected(at.error());
  if (*at == layout_.channels.size()) return {};
  CsvChannel& columns = layout_.columns[*at];
  const auto put = [&](int CsvChannel::*where, compensation::Unit CsvChannel::*unit) -> tl::expected<void, Failure> {
    if (columns.*where >= 0)
      return refuse(fmt::format("\"{}\" and \"{}\" are the same value of {}/{}; rename or remove one",
                                shape_.names[static_cast<std::size_t>(columns.*where)], name,
                                layout_.channels[*at].room, layout_.channels[*at].sensor));
    columns.*where = column;
    if (unit == nullptr) return {};
    const auto stated = unit_of(column, layout_.channels[*at].gas);
    if (!stated) return tl::unexpected(stated.error());
    columns.*unit = *stated;
    return {};
  };
  switch (meaning.role) {
  case Role::value: return put(&CsvChannel::value, &CsvChannel::unit);
  case Role::u_value: return put(&CsvChannel::u, &CsvChannel::u_unit);
  case Role::po2: return put(&CsvChannel::po2, &CsvChannel::po2_unit);
  case Role::u_po2: return put(&CsvChannel::u_po2, &CsvChannel::u_po2_unit);
  case Role::quality: return put(&CsvChannel::quality, nullptr);
  case Role::none:
  case Role::status:
  case Role::reason:
  case Role::room:
  case Role::sensor: return {};
  }
  return {};
}

/// The unit that the name of a column states for what it holds of a gas.
tl::expected<compensation::Unit, Failure> Finder::unit_of(int column, Measurand gas) const {
  const auto& meaning = meanings_[static_cast<std::size_t>(column)];
  const auto& name = shape_.names[static_cast<std::size_t>(column)];
  const bool of_pressure = meaning.role == Role::po2 || meaning.role == Role::u_po2;
  const auto wanted = of_pressure ? compensation::Dimension::pressure : compensation::Dimension::ratio;
  if (meaning.unit && meaning.unit->dimension == wanted) return *meaning.unit;
  return refuse(fmt::format("the name \"{}\" has no unit; write it behind, such as \"{} [{}]\"", name, name,
                            of_pressure                ? "kPa"
                            : gas == Measurand::oxygen ? "%"
                                                       : "ppm"));
}

/// The units of all columns that hold a number of one channel.
tl::expected<void, Failure> Finder::take_units(CsvChannel& columns, Measurand gas) const {
  const std::pair<int, compensation::Unit*> numbers[] = {{columns.value, &columns.unit},
                                                         {columns.u, &columns.u_unit},
                                                         {columns.po2, &columns.po2_unit},
                                                         {columns.u_po2, &columns.u_po2_unit}};
  for (const auto& [column, unit] : numbers) {
    if (column < 0) continue;
    const auto stated = unit_of(column, gas);
    if (!stated) return tl::unexpected(stated.error());
    *unit = *stated;
  }
  return {};
}

tl::expected<void, Failure> Finder::find_wide() {
  for (std::size_t i = 0; i < meanings_.size(); ++i)
    if (const auto placed = place(meanings_[i], static_cast<int>(i)); !placed) return placed;
  for (std::size_t i = 0; i < layout_.channels.size(); ++i)
    if (layout_.columns[i].value < 0) {
      layout_.channels.erase(layout_.channels.begin() + static_cast<std::ptrdiff_t>(i));
      layout_.columns.erase(layout_.columns.begin() + static_cast<std::ptrdiff_t>(i--));
    }
  const int quality = column_with(Role::quality), status = column_with(Role::status), why = column_with(Role::reason);
  for (auto& columns : layout_.columns) {
    if (columns.quality < 0) columns.quality = quality;
    columns.status = status;
    columns.reason = why;
  }
  return {};
}

tl::expected<void, Failure> Finder::find_long() {
  layout_.room = column_with(Role::room);
  layout_.sensor = column_with(Role::sensor);
  if (layout_.room < 0) {
    layout_.only_room = plain_room();
    if (!layout_.only_room) return refuse("has a column \"sensor\" but none \"room\": name the room with --room");
  }
  std::set<std::string> unknown;
  for (const auto& row : shape_.rows) {
    const auto room = layout_.room < 0 ? *layout_.only_room : row[static_cast<std::size_t>(layout_.room)];
    const auto& sensor = row[static_cast<std::size_t>(layout_.sensor)];
    if (layout_.by_name.contains({room, sensor}) || (wanted_.room && room != *wanted_.room)) continue;
    std::optional<DataChannel> channel = named_channel({Role::value, std::nullopt, std::nullopt, room + "/" + sensor});
    for (const auto gas : {Measurand::carbon_dioxide, Measurand::oxygen}) {
      const int column = column_with(Role::value, gas);
      const bool has_value = column >= 0 && !row[static_cast<std::size_t>(column)].empty();
      if (has_value && !channel) unknown.insert(room + "/" + sensor);
    }
    if (channel && !has_gas_sensors(*config::room_named(wanted_.rooms, room))) {
      // The rules know no sensors: the first value that a sensor gives tells its gas.
      const int co2 = column_with(Role::value, Measurand::carbon_dioxide);
      const int oxygen = column_with(Role::value, Measurand::oxygen);
      const auto given = [&](int c) { return c >= 0 && !row[static_cast<std::size_t>(c)].empty(); };
      if (!given(co2) && !given(oxygen)) continue;
      channel->gas = given(oxygen) ? Measurand::oxygen : Measurand::carbon_dioxide;
    }
    if (!channel) continue;
    layout_.by_name.emplace(std::pair{room, sensor}, 0);
    layout_.channels.push_back(*channel);
  }
  std::sort(layout_.channels.begin(), layout_.channels.end(), [&](const DataChannel& a, const DataChannel& b) {
    return std::tuple{a.room, place_of_sensor(wanted_.rooms, a), a.sensor} <
           std::tuple{b.room, place_of_sensor(wanted_.rooms, b), b.sensor};
  });
  for (const auto& name : unknown) layout_.not_used.push_back(name);
  for (std::size_t i = 0; i < layout_.channels.size(); ++i) {
    const auto& channel = layout_.channels[i];
    layout_.by_name[{channel.room, channel.sensor}] = i;
    auto& columns = layout_.columns.emplace_back();
    columns.u_assumed = stated_u(wanted_.rooms, channel);
    columns.value = column_with(Role::value, channel.gas);
    columns.u = column_with(Role::u_value, channel.gas);
    columns.quality = column_with(Role::quality);
    columns.status = column_with(Role::status);
    columns.reason = column_with(Role::reason);
    if (channel.gas == Measurand::oxygen) {
      columns.po2 = column_with(Role::po2);
      columns.u_po2 = column_with(Role::u_po2);
    }
    if (const auto units = take_units(columns, channel.gas); !units) return units;
  }
  return {};
}

void Finder::take_periods() {
  for (auto& channel : layout_.channels) {
    std::vector<WallTime> times;
    auto format = layout_.time.format;
    for (const auto& row : shape_.rows) {
      if (layout_.is_long && (row[static_cast<std::size_t>(layout_.sensor)] != channel.sensor ||
                              (layout_.room >= 0 && row[static_cast<std::size_t>(layout_.room)] != channel.room)))
        continue;
      std::string text;
      for (const int column : layout_.table.time)
        text += (text.empty() ? "" : " ") + row[static_cast<std::size_t>(column)];
      const auto at = format.parse(text, layout_.time.offset);
      if (at) times.emplace_back(std::chrono::milliseconds{*at});
    }
    channel.every = wanted_.every.value_or(likely_period(channel.every, middle_step(times)));
  }
}

tl::expected<CsvLayout, Failure> Finder::find() {
  if (shape_.header_line == 0)
    return refuse("has no header; its first line must name the columns, such as \"time,oxygen [%],u oxygen [%]\"");
  layout_.table.dialect = shape_.dialect;
  layout_.table.preamble = static_cast<int>(shape_.header_line) - 1;
  layout_.table.header = true;
  layout_.table.units_line = !shape_.units.empty();
  layout_.table.columns = layout_.table.width = shape_.names.size();
  layout_.table.names = shape_.names;
  if (const auto time = find_time(); !time) return tl::unexpected(time.error());
  if (const auto names = read_names(); !names) return tl::unexpected(names.error());
  layout_.is_long = column_with(Role::sensor) >= 0;
  const auto found = layout_.is_long ? find_long() : find_wide();
  if (!found) return tl::unexpected(found.error());
  if (layout_.channels.empty())
    return refuse(fmt::format("no column holds oxygen or carbon dioxide that the rules know; name them \"oxygen [%]\", "
                              "\"carbon-dioxide [ppm]\" or \"ROOM/SENSOR [%]\". The columns are {}{}",
                              list_of_columns(),
                              wanted_.room ? fmt::format(", and only room {} was asked for", *wanted_.room) : ""));
  for (std::size_t i = 0; i < layout_.channels.size(); ++i) layout_.channels[i].has_po2 = layout_.columns[i].po2 >= 0;
  take_periods();
  return std::move(layout_);
}

} // namespace

tl::expected<CsvLayout, Failure> find_csv_layout(std::string_view text, const std::string& file,
                                                 const CsvWanted& wanted) {
  const auto shape = logfile::shape_of(text, file);
  if (!shape) return tl::unexpected(shape.error());
  return Finder{*shape, file, wanted}.find();
}

} // namespace oxherd::daemon::rehearse
