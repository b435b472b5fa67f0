#include "daemon/logfile/draft.hpp"

#include <algorithm>

#include <fmt/format.h>

#include "daemon/json_text.hpp"
#include "daemon/logfile/column_guess.hpp"
#include "daemon/logfile/input.hpp"
#include "daemon/logfile/table_shape.hpp"
#include "daemon/logfile/time_guess.hpp"

namespace oxherd::daemon::logfile {
namespace {

/// A text as TOML has it, in quotes; also fit for a comment, because it stays on its line. JSON's escapes are TOML's.
std::string toml_text(std::string_view text) {
  std::string out = json_string(text);
  for (auto at = out.find('\x7F'); at != out.npos; at = out.find('\x7F', at)) out.replace(at, 1, "\\u007F");
  return out;
}

/// Whether a recipe can carry a name as it is: it is UTF-8, and without the control characters that header bytes of
/// Windows-1252 become.
bool is_plain(std::string_view name) {
  constexpr std::string_view mended = "\xEF\xBF\xBD";
  for (std::size_t i = 0; i + 1 < name.size(); ++i)
    if (name[i] == '\xC2' && static_cast<unsigned char>(name[i + 1]) < 0xA0) return false;
  return json_string(name).find(mended) == std::string::npos;
}

/// A column by its name, or by its number where the name is no name.
std::string column_text(const TableShape& shape, std::size_t column) {
  const auto& name = shape.names[column];
  const bool unique = std::count(shape.names.begin(), shape.names.end(), name) == 1;
  return name.empty() || !unique || !is_plain(name) ? fmt::format("{}", column + 1) : toml_text(name);
}

std::string format_table(const TableShape& shape, const std::vector<std::string>& missing) {
  std::string out = "[format]\n";
  out += fmt::format("delimiter = \"{}\"    # divides the rows into {} fields\n", name_of_delimiter(shape.dialect),
                     shape.names.size());
  out += fmt::format("decimal = \"{}\"      # {}\n", shape.dialect.decimal,
                     shape.decimal_seen ? "as in its numbers" : "no number has a mark: taken for a point");
  if (shape.header_line == 0)
    out += fmt::format("header = false     # a row with numbers, line {}, comes first\npreamble = {}\n",
                       shape.first_line, shape.first_line - 1);
  else
    out += fmt::format("# The header is line {}: it is found by the names below.\n", shape.header_line);
  if (!shape.units.empty()) out += "units_line = true  # the line below the header holds units\n";
  if (!shape.dialect.comment.empty()) out += "comment = \"#\"      # such lines stand between the rows\n";
  if (missing.empty()) return out + '\n';
  const Format known;
  out += "missing = [";
  for (const auto& marker : known.missing) out += toml_text(marker) + ", ";
  std::vector<std::string> found;
  found.reserve(missing.size());
  for (const auto& marker : missing) found.push_back(toml_text(marker));
  return out + fmt::format("{}] # {} stood where a number should\n\n", fmt::join(found, ", "), fmt::join(found, ", "));
}

std::string zone_lines(const TimeGuess& guess) {
  if (guess.states_offset) return "# No zone is needed: the rows state their offset from UTC or count in UTC.\n";
  if (guess.named_utc) return "zone = \"UTC\"        # the name of the column says so\n";
  return "# TO FILL IN: the rows do not say how far their clock is from UTC. Without a zone they are taken as UTC.\n"
         "# zone = \"+01:00\"           # a clock that never follows summer time\n"
         "# zone = \"Europe/Amsterdam\" # a clock that does\n";
}

std::string time_table(const TableShape& shape) {
  const auto guess = guess_time(shape);
  if (!guess)
    return "# TO FILL IN, if the rows have a time: no column was found that a known format reads in every row.\n"
           "# [time]\n# column = \"Time\"   # or columns = [\"Date\", \"Time\"]\n# format = \"%d.%m.%Y %H:%M:%S\"\n\n";
  std::string out = "[time]\n";
  if (guess->columns.size() == 1)
    out += fmt::format("column = {}\n", column_text(shape, guess->columns[0]));
  else
    out += fmt::format("columns = [{}, {}]\n", column_text(shape, guess->columns[0]),
                       column_text(shape, guess->columns[1]));
  if (guess->formats.size() == 1) {
    out += fmt::format("format = {} # reads each of the {} rows looked at\n", toml_text(guess->formats[0]),
                       shape.rows.size());
  } else {
    out += "# TO FILL IN: these formats all read the rows, each as other times. Put the right one in place of \"?\".\n";
    for (const auto& format : guess->formats) out += fmt::format("#   {}\n", toml_text(format));
    out += "format = \"?\"\n";
  }
  return out + zone_lines(*guess) + '\n';
}

/// The table of an input that a column holds.
std::string column_table(const TableShape& shape, std::string_view table, const ColumnGuess& guess,
                         std::string_view unit_examples) {
  std::string out = fmt::format("[{}]\ncolumn = {} # {}\n", table, column_text(shape, guess.column), guess.why);
  if (guess.unit)
    out += fmt::format("unit = \"{}\"\n", guess.unit->symbol);
  else
    out +=
        fmt::format("# TO FILL IN: neither the header nor the values tell the unit. It is one of {}.\n# unit = \"\"\n",
                    unit_examples);
  if (!guess.others.empty()) {
    std::vector<std::string> others;
    others.reserve(guess.others.size());
    for (const auto column : guess.others) others.push_back(column_text(shape, column));
    out += fmt::format("# Could be meant as well: {}.\n", fmt::join(others, ", "));
  }
  return out;
}

std::string signal_table(const TableShape& shape, const std::optional<ColumnGuess>& guess) {
  if (guess) return column_table(shape, "signal", *guess, "\"mV\", \"V\", \"%\", \"ppm\"") + '\n';
  return "# TO FILL IN: no column was found that looks like the signal of an oxygen cell.\n"
         "# [signal]\n# column = \"O2 cell\"\n# unit = \"mV\"\n\n";
}

std::string air_table(const TableShape& shape, std::string_view table, const std::optional<ColumnGuess>& guess,
                      std::string_view example, std::string_view units) {
  if (guess) return column_table(shape, table, *guess, units) + '\n';
  return fmt::format("# TO FILL IN: no column was found that looks like a {0}. Name one with its unit, or a constant.\n"
                     "# [{0}]\n# value = \"{1}\"\n\n",
                     table, example);
}

std::string pressure_table(const TableShape& shape, const std::optional<ColumnGuess>& guess) {
  constexpr std::string_view site = "# [site]\n# name = \"larkfield\"\n# elevation = \"212 m\"\n";
  if (guess && guess->reduced)
    return column_table(shape, "sea_level_pressure", *guess, "\"hPa\", \"kPa\", \"inHg\"") +
           "# TO FILL IN: where the logger stands.\n" + std::string{site} + '\n';
  if (guess)
    return column_table(shape, "pressure", *guess, "\"hPa\", \"kPa\", \"mmHg\", \"inHg\"") +
           "# If it is reduced to sea level, as weather reports are, write [sea_level_pressure] and [site] "
           "instead.\n\n";
  return "# TO FILL IN: no column was found that looks like an air pressure. One of these:\n"
         "# [pressure]             # measured, or a constant\n# value = \"99.8 kPa\"\n"
         "#\n# [sea_level_pressure]   # from a weather report in a second file; needs [site]\n"
         "# column = \"qnh_hPa\"\n# unit = \"hPa\"\n# from = \"ambient\"\n"
         "# [ambient]\n# file = \"weather.csv\"\n# max_gap = \"15 min\"\n# time = { column = \"time\" }\n"
         "#\n# [site] alone: the standard pressure of its elevation, with 8 hPa for the weather\n" +
         std::string{site} + '\n';
}

std::string cell_tables(const std::optional<ColumnGuess>& signal) {
  using compensation::Dimension;
  const bool indicated = signal && signal->unit && signal->unit->dimension == Dimension::ratio;
  return fmt::format("# TO FILL IN: which kind of cell it is, from its data sheet.\n"
                     "# [cell]\n# model = \"partial-pressure\" # or \"concentration\", \"mole-fraction\"{}\n"
                     "# zero = \"{}\"\n# serial = \"LK-0021\"\n\n"
                     "# TO FILL IN: the last calibration of this cell, with the conditions that it was done in.\n"
                     "# [calibration]\n# at = 2026-02-23T09:30:00+01:00\n# signal = \"{}\" # {}\n"
                     "# oxygen = \"20.946 %\" # of the reference gas, dry\n"
                     "# temperature = \"23 °C\"\n# humidity = \"50 %\"\n# pressure = \"99.1 kPa\"\n\n",
                     indicated ? "" : ", \"nernst\"", indicated ? "0 %" : "0.2 mV", indicated ? "20.9 %" : "10.2 mV",
                     indicated ? "what it indicated in the reference gas" : "in the reference gas");
}

} // namespace

tl::expected<std::string, Failure> draft_recipe(std::string_view text, const std::string& file) {
  const auto shape = shape_of(text, file);
  if (!shape) return tl::unexpected(shape.error());
  const auto guesses = guess_columns(*shape);
  const auto of = [&](Quantity quantity) { return guesses.of.at(static_cast<std::size_t>(quantity)); };
  std::string out = fmt::format("# A recipe to begin with, from {} (rows looked at: {}). What stands here was\n"
                                "# guessed, with the reason behind it: check every line. What the file cannot tell is\n"
                                "# marked TO FILL IN; until then the recipe is refused, with what is missing.\n\n",
                                toml_text(file), shape->rows.size());
  out += format_table(*shape, guesses.missing);
  out += time_table(*shape);
  out += signal_table(*shape, of(Quantity::signal));
  out += air_table(*shape, "temperature", of(Quantity::temperature), "21 °C", "\"°C\", \"°F\", \"K\"");
  out += air_table(*shape, "humidity", of(Quantity::humidity), "45 %", "\"%\", \"fraction\"");
  out += pressure_table(*shape, of(Quantity::pressure));
  out += cell_tables(of(Quantity::signal));
  return out + "[output]\ncolumns = [\"oxygen\", \"u_oxygen\", \"quality\", \"remark\"] # what is added to each row\n";
}

tl::expected<std::string, Failure> draft_recipe_for(const std::string& file) {
  auto source = FileSource::open(file);
  if (!source) return tl::unexpected(source.error());
  RowReader rows{**source, file};
  const auto text = rows.first_bytes();
  if (!text) return tl::unexpected(text.error());
  return draft_recipe(*text, file);
}

} // namespace oxherd::daemon::logfile
