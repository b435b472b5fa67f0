#include "daemon/logfile/recipe_tables.hpp"

#include <algorithm>
#include <array>

#include <fmt/core.h>

#include "config/measurands.hpp"
#include "config/nearest.hpp"
#include "config/rules.hpp"
#include "config/zone_file.hpp"
#include "daemon/logfile/number.hpp"

namespace oxherd::daemon::logfile {
namespace {

using compensation::Dimension;
using config::Measurand;
using config::Node;
using config::QuantityRule;
using config::TableReader;

constexpr std::array<config::Choice<char>, 5> delimiters{
    {{",", ','}, {";", ';'}, {"tab", '\t'}, {"|", '|'}, {"blanks", ' '}}};
constexpr std::array<config::Choice<char>, 2> decimal_marks{{{".", '.'}, {",", ','}}};
constexpr std::array<config::Choice<Source::From>, 1> other_places{{{"ambient", Source::From::ambient}}};
constexpr config::IntegerRule preamble_lines{0, 1000};
constexpr config::IntegerRule decimal_digits{0, decimals_max};
constexpr int column_max = 10000;

constexpr std::array added_columns{
    AddedColumn{Added::oxygen, "oxygen", "oxygen_percent", "%"},
    AddedColumn{Added::u_oxygen, "u_oxygen", "u_oxygen_percent", "%"},
    AddedColumn{Added::oxygen_wet, "oxygen_wet", "oxygen_wet_percent", "%"},
    AddedColumn{Added::u_oxygen_wet, "u_oxygen_wet", "u_oxygen_wet_percent", "%"},
    AddedColumn{Added::po2, "po2", "po2_kPa", "kPa"},
    AddedColumn{Added::u_po2, "u_po2", "u_po2_kPa", "kPa"},
    AddedColumn{Added::sea_level_equivalent, "sea_level_equivalent", "sea_level_equivalent_percent", "%"},
    AddedColumn{Added::uncorrected, "uncorrected", "uncorrected_percent", "%"},
    AddedColumn{Added::pressure, "pressure", "pressure_kPa", "kPa"},
    AddedColumn{Added::vapour_pressure, "vapour_pressure", "vapour_pressure_kPa", "kPa"},
    AddedColumn{Added::time, "time", "time_utc", ""},
    AddedColumn{Added::quality, "quality", "oxygen_quality", ""},
    AddedColumn{Added::remark, "remark", "oxygen_remark", ""}};

/// Texts that may be empty, as markers of missing values are.
std::vector<std::string> read_markers(TableReader& in, std::string_view key) {
  const Node* node = in.node(key);
  const auto* items = node != nullptr ? std::get_if<config::Array>(&node->value) : nullptr;
  std::vector<std::string> markers;
  if (items == nullptr) {
    in.error(key, "is not an array of texts, such as [\"\", \"NaN\"]");
    return markers;
  }
  for (const auto& item : *items) {
    if (const auto* text = std::get_if<std::string>(&item.value))
      markers.push_back(*text);
    else
      in.problems().error(item.at, in.path(key), fmt::format("{} is not a text; put it in quotes", shown(item)));
  }
  return markers;
}

/// The span and the uncertainty that hold for a value of a file where the recipe states none.
void take_defaults(Measurand measurand, Dimension dimension, Source& source) {
  for (const auto& delivery : config::deliveries()) {
    if (delivery.measurand != measurand || delivery.dimension != dimension) continue;
    source.u_si = delivery.u_si;
    source.low_si = delivery.lowest_si.value_or(config::cell_signal.low);
    source.high_si = delivery.highest_si.value_or(config::cell_signal.high);
  }
}

Dimension dimension_of(Measurand measurand) {
  switch (measurand) {
  case Measurand::oxygen: return Dimension::voltage;
  case Measurand::temperature: return Dimension::temperature;
  case Measurand::humidity: return Dimension::humidity;
  case Measurand::pressure:
  case Measurand::sea_level_pressure: return Dimension::pressure;
  case Measurand::carbon_dioxide: return Dimension::ratio;
  case Measurand::over_pressure:
  case Measurand::door:
  case Measurand::occupancy:
  case Measurand::lights:
  case Measurand::air_flow:
  case Measurand::relief_valve: break; // nothing that is corrected follows from these
  }
  return Dimension::number;
}

/// Span of a constant: what the settings file accepts for the same quantity.
QuantityRule constant_rule(Measurand measurand) {
  switch (measurand) {
  case Measurand::temperature: return config::gas_temperature;
  case Measurand::humidity: return config::gas_humidity;
  case Measurand::sea_level_pressure: return config::reported_air_pressure;
  default: return config::station_air_pressure;
  }
}

QuantityRule uncertainty_rule(Measurand measurand, Dimension dimension) {
  switch (measurand) {
  case Measurand::oxygen:
    return dimension == Dimension::ratio ? config::fraction_uncertainty : config::signal_uncertainty;
  case Measurand::temperature: return config::temperature_uncertainty;
  case Measurand::humidity: return config::humidity_uncertainty;
  default: return config::pressure_uncertainty;
  }
}

void read_column_source(TableReader& in, Measurand measurand, Dimension dimension, Source& source) {
  source.from = Source::From::column;
  const Node* column = in.node("column");
  if (const auto name = read_column(in, "column", *column)) source.column = *name;
  if (in.has("from")) {
    if (measurand == Measurand::oxygen)
      in.error("from", "the signal must stand in the file that is corrected");
    else
      source.from = in.choice("from", other_places).value_or(source.from);
  }
  const auto example = compensation::units_of(dimension).front().symbol;
  in.require("unit", fmt::format("\"{}\"", example));
  if (const auto symbol = in.text("unit")) {
    const auto unit = compensation::find_unit(*symbol, dimension);
    if (unit)
      source.unit = *unit;
    else
      in.error("unit", unit.error().message);
  }
}

void read_otherwise(TableReader& in, Measurand measurand, Source& source) {
  if (!in.has("otherwise")) {
    if (in.has("u_otherwise")) in.error("u_otherwise", "there is no otherwise that it could belong to");
    return;
  }
  Source::Otherwise otherwise;
  if (const auto si = in.quantity("otherwise", constant_rule(measurand))) otherwise.si = *si;
  in.require("u_otherwise", measurand == Measurand::humidity ? "\"20 %\"" : "a wide uncertainty, such as \"3 K\"");
  if (const auto u = in.quantity("u_otherwise", uncertainty_rule(measurand, dimension_of(measurand))))
    otherwise.u_si = *u;
  source.otherwise = otherwise;
}

/// `zone`: an offset that holds all year, or the name of a zone.
void read_zone(TableReader& in, const std::string& text, TimeColumns& time) {
  if (const auto offset = offset_named(text)) {
    time.offset = *offset;
    return;
  }
  auto zone = config::load_zone(text);
  if (zone)
    time.zone = std::move(*zone);
  else
    in.error("zone", zone.error());
}

} // namespace

const AddedColumn& column_of(Added added) { return added_columns.at(static_cast<std::size_t>(added)); }

std::vector<std::string> added_words() {
  std::vector<std::string> words;
  for (const auto& column : added_columns) words.emplace_back(column.word);
  return words;
}

std::optional<ColumnName> read_column(TableReader& in, std::string_view key, const Node& node) {
  ColumnName column{.name = {},
                    .said =
                        fmt::format("{}:{}:{}: {}", in.problems().file(), node.at.line, node.at.column, in.path(key))};
  if (const auto* name = std::get_if<std::string>(&node.value)) {
    column.name = *name;
    if (!name->empty()) return column;
  } else if (const auto* number = std::get_if<std::int64_t>(&node.value);
             number != nullptr && *number >= 1 && *number <= column_max) {
    column.number = static_cast<int>(*number);
    return column;
  }
  in.problems().error(node.at, in.path(key),
                      fmt::format("{} names no column; write its name as in the header, in quotes, or its number from "
                                  "1, without quotes",
                                  shown(node)));
  return std::nullopt;
}

Format read_format(TableReader in) {
  Format format;
  format.delimiter = in.choice("delimiter", delimiters);
  format.blanks = format.delimiter == ' ';
  format.decimal = in.choice("decimal", decimal_marks);
  format.preamble = in.integer("preamble", preamble_lines);
  format.header = in.boolean("header").value_or(format.header);
  format.units_line = in.boolean("units_line").value_or(format.units_line);
  format.quotes = in.boolean("quotes").value_or(format.quotes);
  format.comment = in.text("comment").value_or(format.comment);
  if (in.has("missing")) format.missing = read_markers(in, "missing");
  if (format.units_line && !format.header) in.error("units_line", "a line of units needs a header before it");
  in.finish();
  return format;
}

std::optional<TimeColumns> read_time(TableReader in) {
  TimeColumns time;
  if (const Node* one = in.node("column")) {
    if (const auto column = read_column(in, "column", *one)) time.columns.push_back(*column);
    if (in.has("columns")) in.error("columns", "column is given as well; one of the two must go");
  } else if (const Node* several = in.node("columns")) {
    const auto* items = std::get_if<config::Array>(&several->value);
    if (items == nullptr || items->size() != 2)
      in.error("columns", "is not a pair such as [\"Date\", \"Time\"]; for one column write column");
    else
      for (const auto& item : *items)
        if (const auto column = read_column(in, "columns", item)) time.columns.push_back(*column);
  } else {
    in.require("column", "\"Time\"");
  }
  const auto format = TimeFormat::make(in.text("format").value_or("iso"));
  if (format)
    time.format = *format;
  else
    in.error("format", format.error());
  if (const auto zone = in.text("zone")) {
    time.zone_stated = true;
    read_zone(in, *zone, time);
  }
  in.finish();
  return time;
}

std::optional<Source> read_source(TableReader in, Measurand measurand) {
  Source source;
  const bool signal = measurand == Measurand::oxygen;
  // A signal is a voltage unless its unit says that it is an indicated oxygen.
  auto dimension = dimension_of(measurand);
  const Node* unit = in.node("unit");
  const auto* symbol = unit != nullptr ? std::get_if<std::string>(&unit->value) : nullptr;
  if (signal && symbol != nullptr && compensation::find_unit(*symbol, Dimension::ratio)) dimension = Dimension::ratio;
  take_defaults(measurand, dimension, source);
  const bool column = in.has("column");
  const bool constant = in.has("value");
  if (column && constant) in.error("value", "column is given as well; one of the two must go");
  if (!column && (signal || !constant))
    in.require("column", signal ? "\"O2 cell\"" : "\"T\", or for a constant value = \"21 °C\"");
  if (column) read_column_source(in, measurand, dimension, source);
  if (constant && !signal) {
    if (const auto si = in.quantity("value", constant_rule(measurand))) source.constant_si = *si;
    for (const std::string_view key : {"unit", "from"})
      if (in.has(key)) in.error(key, "belongs to a column; a constant carries its unit itself");
  }
  if (const auto u = in.quantity("uncertainty", uncertainty_rule(measurand, dimension))) source.u_si = *u;
  if (!signal && column) read_otherwise(in, measurand, source);
  in.finish();
  return source;
}

Output read_output(TableReader in) {
  Output output;
  if (in.has("columns")) {
    output.columns.clear();
    for (const auto& word : in.texts("columns")) {
      const auto found = std::find_if(added_columns.begin(), added_columns.end(),
                                      [&](const AddedColumn& one) { return one.word == word; });
      if (found == added_columns.end())
        in.error("columns",
                 fmt::format("\"{}\" is not known; write {}", word, config::listed_nearest_first(word, added_words())));
      else if (std::find(output.columns.begin(), output.columns.end(), found->added) != output.columns.end())
        in.error("columns", fmt::format("\"{}\" is named twice", word));
      else
        output.columns.push_back(found->added);
    }
    if (output.columns.empty()) in.error("columns", "names no column: nothing would be added");
  }
  output.decimals = in.integer("decimals", decimal_digits).value_or(output.decimals);
  output.prefix = in.text("prefix").value_or(output.prefix);
  output.missing = in.text("missing").value_or(output.missing);
  output.caution_lines = in.boolean("caution_lines").value_or(output.caution_lines);
  in.finish();
  return output;
}

} // namespace oxherd::daemon::logfile
