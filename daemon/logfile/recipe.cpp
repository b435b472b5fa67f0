#include "daemon/logfile/recipe.hpp"

#include <utility>

#include <fmt/core.h>

#include "compensation/barometry.hpp"
#include "config/sections.hpp"
#include "daemon/logfile/recipe_tables.hpp"

namespace oxherd::daemon::logfile {
namespace {

using compensation::Dimension;
using config::Measurand;
using config::Problems;
using config::TableReader;

constexpr config::QuantityRule gap_span{compensation::Dimension::duration, 0.0, 31.0 * 86400.0, "0 s to 31 d"};
constexpr double weather_Pa = 800.0; // 8 hPa of weather around the ISO 2533 pressure, as the daemon takes it

std::optional<Source>& slot(Recipe& recipe, Quantity quantity) {
  return recipe.sources[static_cast<std::size_t>(quantity)];
}

void read_one(TableReader& in, std::string_view key, Measurand measurand, std::optional<Source>& to) {
  if (auto table = in.table(key)) to = read_source(*table, measurand);
}

/// The station pressure: measured, from a report reduced to sea level, or of the standard atmosphere.
void read_pressure(TableReader& in, Recipe& recipe) {
  auto& source = slot(recipe, Quantity::pressure);
  read_one(in, "pressure", Measurand::pressure, source);
  const bool reported = in.has("sea_level_pressure");
  if (reported && in.has("pressure"))
    in.error("sea_level_pressure", "pressure is given as well; one of the two must go");
  else if (reported)
    read_one(in, "sea_level_pressure", Measurand::sea_level_pressure, source);
  recipe.pressure_is_sea_level = reported;
  if (reported && !recipe.site && !in.has("site"))
    in.error("sea_level_pressure", "needs the elevation; write [site] with name and elevation");
  if (reported || in.has("pressure")) return;
  if (!recipe.site) {
    if (!in.has("site"))
      in.error("pressure", "missing; write [pressure] with a column or a value, or [sea_level_pressure] and [site], or "
                           "[site] alone for the standard pressure of its elevation");
    return;
  }
  Source standard;
  standard.u_si = weather_Pa;
  const auto p = compensation::standard_pressure(compensation::geopotential(recipe.site->elevation));
  if (p) standard.constant_si = p->si(); // else the elevation was refused already
  source = standard;
}

void read_cell_and_calibration(TableReader& in, Recipe& recipe) {
  const config::Site nowhere;
  const config::Site& site = recipe.site ? *recipe.site : nowhere;
  if (auto cell = in.table("cell"))
    recipe.cell = config::read_cell(*cell, site, config::Regime::occupied, recipe.signal_unit());
  else if (!in.has("cell"))
    in.error("cell", "missing; write [cell] with its model, as in the daemon's settings file");
  if (auto calibration = in.table("calibration")) {
    TableReader look = *calibration; // another reader: what it asks for does not count as known
    if (!recipe.site && look.has("sea_level_pressure") && !look.has("elevation"))
      in.error("calibration", "sea_level_pressure needs an elevation here, or [site]");
    recipe.calibration = config::read_calibration(*calibration, site, recipe.cell, recipe.signal_unit());
  } else if (!in.has("calibration")) {
    in.error("calibration", "missing; write [calibration] with signal, temperature, humidity and pressure");
  }
  if (recipe.cell.cell.nernst && !recipe.site && !in.has("site"))
    in.error("cell", "a nernst cell needs the pressure of its reference air; write [site] with name and elevation");
}

/// Values of the other kind than the signal's column, in the tables of cell and calibration.
void check_signal_values(TableReader& in, std::string_view table, std::initializer_list<std::string_view> keys,
                         const Recipe& recipe, TableReader& signal) {
  const config::Node* there = in.node(table);
  if (there == nullptr || there->table() == nullptr) return; // what is wrong is said already
  TableReader values = *in.table(table);                     // what this one asks for does not count as known
  const auto unit = recipe.source(Quantity::signal)->unit.symbol;
  const bool indicated = recipe.signal_unit() == config::SignalUnit::indicated_fraction;
  for (const auto key : keys) {
    const config::Node* node = values.node(key);
    const auto* text = node != nullptr ? std::get_if<std::string>(&node->value) : nullptr;
    if (text == nullptr || !compensation::parse_quantity(*text, indicated ? Dimension::voltage : Dimension::ratio))
      continue;
    signal.error(
        "unit", indicated
                    ? fmt::format("the column holds an indicated oxygen in {}, but {} is \"{}\"; write there what was "
                                  "indicated, such as \"20.9 %\", or here mV if the column holds millivolts",
                                  unit, values.path(key), *text)
                    : fmt::format("the column holds a voltage in {}, but {} is \"{}\"; write there the signal, such as "
                                  "\"12.6 mV\", or here % if the column holds an indicated oxygen",
                                  unit, values.path(key), *text));
  }
  if (const config::Node* low = values.node("low"); low != nullptr && low->table() != nullptr)
    check_signal_values(values, "low", {"signal", "u_signal"}, recipe, signal);
}

/// The unit of the signal's column holds for [cell] and [calibration] too. What disagrees is said at that unit, besides
/// the problem at the value itself, because either may be the slip.
void check_signal_unit(TableReader& in, const Recipe& recipe) {
  if (!recipe.source(Quantity::signal)) return; // what is wrong is said already
  auto table = in.table("signal");
  if (!table) return;
  TableReader& signal = *table;
  const bool indicated = recipe.signal_unit() == config::SignalUnit::indicated_fraction;
  if (indicated && recipe.cell.cell.model == compensation::CellModel::nernst)
    signal.error("unit", "an indicated oxygen is taken to be in proportion to the cell's signal, but that of a nernst "
                         "cell follows the logarithm of oxygen; correct the millivolts of this cell instead");
  check_signal_values(in, "cell", {"zero", "u_zero", "dead_below", "resolution"}, recipe, signal);
  check_signal_values(in, "calibration", {"signal", "u_signal", "zero_signal", "u_zero"}, recipe, signal);
}

std::optional<Ambient> read_ambient(TableReader in, const std::filesystem::path& directory) {
  Ambient ambient;
  in.require("file", "\"weather.csv\"");
  in.require("max_gap", "\"10 min\"");
  if (const auto file = in.text("file")) ambient.file = directory / *file;
  if (const auto gap = in.duration("max_gap", gap_span)) ambient.max_gap = *gap;
  if (auto format = in.table("format")) ambient.format = read_format(*format);
  if (auto time = in.table("time"))
    ambient.time = read_time(*time);
  else if (!in.has("time"))
    in.error("time", "missing; the second file is matched by its times");
  in.finish();
  return ambient;
}

/// What concerns more than one table.
void check_ambient(TableReader& in, const Recipe& recipe) {
  bool used = false;
  for (const auto& source : recipe.sources) used = used || (source && source->from == Source::From::ambient);
  if (used && !in.has("ambient")) in.error("", "from = \"ambient\" needs [ambient] with file, max_gap and time");
  if (!used && in.has("ambient") && !in.problems().has_errors())
    in.warning("ambient", "no input says from = \"ambient\": the file is not read");
  if (used && !in.has("time")) in.error("time", "missing; the second file is matched by the times of the rows");
}

void check_marks(TableReader& in, std::string_view table, const Format& format) {
  if (format.delimiter == ',' && format.decimal == ',' && !format.quotes)
    in.error(table, "a decimal comma between delimiters of comma needs quotes");
}

void read_inputs(TableReader& in, Recipe& recipe) {
  for (const std::string_view key : {"signal", "temperature", "humidity"})
    if (!in.has(key)) in.error(key, fmt::format("missing; write [{}] with its column and unit", key));
  read_one(in, "signal", Measurand::oxygen, slot(recipe, Quantity::signal));
  read_one(in, "temperature", Measurand::temperature, slot(recipe, Quantity::temperature));
  read_one(in, "humidity", Measurand::humidity, slot(recipe, Quantity::humidity));
  read_one(in, "humidity_temperature", Measurand::temperature, slot(recipe, Quantity::humidity_temperature));
  read_pressure(in, recipe);
}

void read_tables(TableReader& in, const std::filesystem::path& directory, Recipe& recipe) {
  if (auto format = in.table("format")) recipe.format = read_format(*format);
  check_marks(in, "format", recipe.format);
  if (auto site = in.table("site")) recipe.site = config::read_site(*site);
  if (auto time = in.table("time")) recipe.time = read_time(*time);
  read_inputs(in, recipe);
  read_cell_and_calibration(in, recipe);
  check_signal_unit(in, recipe);
  if (auto ambient = in.table("ambient")) recipe.ambient = read_ambient(*ambient, directory);
  if (auto output = in.table("output")) recipe.output = read_output(*output);
  check_ambient(in, recipe);
  for (const auto added : recipe.output.columns)
    if (added == Added::time && !recipe.time) in.error("output", "the column \"time\" needs [time]");
  in.finish();
}

tl::expected<Recipe, std::vector<config::Problem>> parse_with(std::string_view text, Problems problems,
                                                              const std::filesystem::path& directory) {
  Recipe recipe;
  recipe.name = problems.file();
  recipe.text = text;
  if (const auto root = config::read_document(text, problems)) {
    TableReader in{*root, {1, 1}, "", problems};
    read_tables(in, directory, recipe);
  }
  auto all = problems.sorted();
  if (problems.has_errors()) return tl::unexpected(std::move(all));
  recipe.warnings = std::move(all);
  return recipe;
}

} // namespace

std::string_view name_of(Quantity quantity) {
  switch (quantity) {
  case Quantity::signal: return "signal";
  case Quantity::temperature: return "temperature";
  case Quantity::humidity: return "humidity";
  case Quantity::humidity_temperature: return "humidity probe temperature";
  case Quantity::pressure: return "pressure";
  }
  return "unknown";
}

tl::expected<Recipe, std::vector<config::Problem>> load_recipe(const std::filesystem::path& file) {
  Problems problems{file.string()};
  const auto text = config::read_text(file.string(), problems);
  if (!text) return tl::unexpected(problems.sorted());
  return parse_with(*text, std::move(problems), file.parent_path());
}

tl::expected<Recipe, std::vector<config::Problem>> parse_recipe(std::string_view text, std::string_view name,
                                                                const std::filesystem::path& directory) {
  return parse_with(text, Problems{std::string{name}}, directory);
}

} // namespace oxherd::daemon::logfile
