#include "daemon/logfile/layout.hpp"

#include <algorithm>
#include <map>

#include <fmt/core.h>
#include <fmt/format.h>

#include "config/nearest.hpp"
#include "daemon/logfile/number.hpp"
#include "daemon/logfile/row.hpp"

namespace oxherd::daemon::logfile {
namespace {

constexpr std::size_t header_lines_max = 100; ///< a preamble longer than that must be stated
constexpr std::size_t rows_looked_at = 200;
constexpr std::array candidates{'\t', ';', '|', ','}; // a comma comes last: it may be the decimal mark

/// Whether UTF-8 could have this byte sequence; enough to tell it from ISO 8859-1 in a header.
bool is_utf8(std::string_view text) {
  for (std::size_t i = 0; i < text.size();) {
    const auto lead = static_cast<unsigned char>(text[i++]);
    const std::size_t follow = lead < 0x80 ? 0 : lead >= 0xC2 && lead < 0xE0 ? 1 : lead >= 0xE0 && lead < 0xF0 ? 2 : 3;
    if (lead >= 0x80 && (lead < 0xC2 || lead > 0xF4)) return false;
    for (std::size_t k = 0; k < follow; ++k, ++i)
      if (i >= text.size() || (static_cast<unsigned char>(text[i]) & 0xC0U) != 0x80U) return false;
  }
  return true;
}

bool is_ignored(const Row& row, const Dialect& dialect) {
  return trimmed(row.bytes).empty() || (!dialect.comment.empty() && row.bytes.starts_with(dialect.comment));
}

/// The rows at the start of a text; the last one is left out when it may be cut.
std::vector<std::vector<std::string>> rows_of(std::string_view text, const Dialect& dialect, std::size_t rows_max) {
  const RowSplitter splitter{dialect};
  std::vector<std::vector<std::string>> rows;
  std::string scratch;
  Row row;
  while (!text.empty() && rows.size() < rows_max) {
    std::size_t used = splitter.split(text, false, row);
    // The whole text may be one row without a line end; behind others it is taken for cut.
    if (used == 0 && rows.empty()) used = splitter.split(text, true, row);
    if (used == 0) break;
    text.remove_prefix(used);
    if (is_ignored(row, dialect)) continue;
    auto& fields = rows.emplace_back();
    for (std::size_t i = 0; i < row.fields.size(); ++i) fields.emplace_back(content_of(row.field(i), dialect, scratch));
  }
  return rows;
}

/// The number of fields that most rows have.
std::size_t usual_count(const std::vector<std::vector<std::string>>& rows) {
  std::map<std::size_t, std::size_t> counts;
  for (const auto& row : rows) ++counts[row.size()];
  std::size_t best = 0;
  std::size_t most = 0;
  for (const auto& [fields, n] : counts)
    if (n > most) {
      best = fields;
      most = n;
    }
  return best;
}

std::vector<const ColumnName*> all_columns(const Wanted& wanted) {
  std::vector<const ColumnName*> all;
  for (const auto* column : wanted.quantities)
    if (column != nullptr) all.push_back(column);
  all.insert(all.end(), wanted.time.begin(), wanted.time.end());
  return all;
}

std::size_t largest_number(const std::vector<const ColumnName*>& columns) {
  int largest = 2; // a table of one column needs no delimiter
  for (const auto* column : columns) largest = std::max(largest, column->number);
  return static_cast<std::size_t>(largest);
}

std::size_t found_in(const std::vector<std::string>& header, const std::vector<const ColumnName*>& columns) {
  return static_cast<std::size_t>(std::count_if(columns.begin(), columns.end(), [&](const ColumnName* column) {
    return !column->name.empty() && std::find(header.begin(), header.end(), column->name) != header.end();
  }));
}

/// Text from its n-th line on.
std::string_view from_line(std::string_view text, std::size_t lines) {
  for (; lines > 0 && !text.empty(); --lines) text.remove_prefix(std::min(text.find('\n'), text.size() - 1) + 1);
  return text;
}

struct Header {
  std::size_t line = 0; ///< lines before it
  char delimiter = ',';
  std::vector<std::string> names;
  std::size_t found = 0; ///< wanted names it has
};

/// The line that has the wanted names, or the one that has most of them.
Header find_header(std::string_view text, const Dialect& base, const Format& format,
                   const std::vector<const ColumnName*>& columns) {
  const auto named = static_cast<std::size_t>(
      std::count_if(columns.begin(), columns.end(), [](const ColumnName* c) { return !c->name.empty(); }));
  const std::size_t first = static_cast<std::size_t>(format.preamble.value_or(0));
  const bool search = !format.preamble && named > 0;
  Header best{.line = first, .names = {}};
  for (std::size_t line = first; line <= first + (search ? header_lines_max : 0); ++line) {
    const auto rest = from_line(text, line);
    if (rest.empty()) break;
    for (const char delimiter : candidates) {
      if (format.delimiter && delimiter != candidates.front()) break; // one try with the one that is stated
      Dialect dialect = base;
      if (!format.delimiter) dialect.delimiter = delimiter;
      const auto rows = rows_of(rest, dialect, 1);
      if (rows.empty()) continue;
      Header here{line, dialect.delimiter, {}, 0};
      for (const auto& name : rows.front()) here.names.push_back(as_utf8(name));
      here.found = found_in(here.names, columns);
      const bool better = here.found > best.found || best.names.empty() ||
                          (here.found == best.found && here.line == best.line && here.names.size() > best.names.size());
      if (better) best = here;
      if (named > 0 && here.found == named) return here;
    }
  }
  if (named == 0 && !format.delimiter) {
    best.delimiter = likely_delimiter(from_line(text, first), base, largest_number(columns));
    Dialect dialect = base;
    dialect.delimiter = best.delimiter;
    best.names.clear();
    for (const auto& row : rows_of(from_line(text, first), dialect, 1))
      for (const auto& name : row) best.names.push_back(as_utf8(name));
  }
  return best;
}

/// Index of one column, or a message.
int resolve(const ColumnName& column, const Layout& layout, const std::string& file, std::vector<std::string>& wrong) {
  if (column.number > 0) {
    if (static_cast<std::size_t>(column.number) <= layout.width) return column.number - 1;
    wrong.push_back(fmt::format("{}: there is no column {}: the rows of {} have {} fields", column.said, column.number,
                                file, layout.width));
    return -1;
  }
  const auto& names = layout.names;
  const auto at = std::find(names.begin(), names.end(), column.name);
  if (at != names.end()) {
    if (std::find(at + 1, names.end(), column.name) == names.end()) return static_cast<int>(at - names.begin());
    wrong.push_back(fmt::format("{}: the header of {} has \"{}\" more than once; name the column by its number",
                                column.said, file, column.name));
    return -1;
  }
  if (!layout.header) {
    wrong.push_back(fmt::format("{}: {} has no header; name the column by its number", column.said, file));
    return -1;
  }
  wrong.push_back(fmt::format("{}: the header of {} (line {}) has no column \"{}\"; it has {}", column.said, file,
                              layout.preamble + 1, column.name, config::listed_nearest_first(column.name, names)));
  return -1;
}

/// The mark that the numbers of these columns are written with.
char likely_decimal(const std::vector<std::vector<std::string>>& rows, const Layout& layout) {
  std::size_t points = 0;
  std::size_t commas = 0;
  for (const auto& row : rows)
    for (const int index : layout.quantities) {
      if (index < 0 || static_cast<std::size_t>(index) >= row.size()) continue;
      const auto& text = row[static_cast<std::size_t>(index)];
      points += text.find('.') != text.npos && parse_number(text, '.') ? 1 : 0;
      commas += text.find(',') != text.npos && parse_number(text, ',') ? 1 : 0;
    }
  return commas > points ? ',' : '.';
}

} // namespace

std::string as_utf8(std::string_view text) {
  if (is_utf8(text)) return std::string{text};
  std::string out;
  for (const char c : text) {
    const auto byte = static_cast<unsigned char>(c);
    if (byte < 0x80) {
      out += c;
      continue;
    }
    out += static_cast<char>(0xC0U | (byte >> 6U));
    out += static_cast<char>(0x80U | (byte & 0x3FU));
  }
  return out;
}

char likely_delimiter(std::string_view rows, const Dialect& dialect, std::size_t fields_min) {
  char best = ',';
  std::size_t most = 0;
  for (const char candidate : candidates) {
    Dialect tried = dialect;
    tried.delimiter = candidate;
    const auto divided = rows_of(rows, tried, rows_looked_at);
    const std::size_t fields = usual_count(divided);
    const auto alike = static_cast<std::size_t>(
        std::count_if(divided.begin(), divided.end(), [&](const auto& row) { return row.size() == fields; }));
    if (fields >= fields_min && alike * 10 >= divided.size() * 9) return candidate;
    if (fields > most) {
      most = fields;
      best = candidate;
    }
  }
  return best;
}

Wanted wanted_of(const Recipe& recipe, Source::From from) {
  Wanted wanted;
  for (const auto quantity : all_quantities) {
    const auto& source = recipe.source(quantity);
    if (source && source->from == from) wanted.quantities[static_cast<std::size_t>(quantity)] = &source->column;
  }
  const auto* time = from == Source::From::ambient
                         ? recipe.ambient && recipe.ambient->time ? &*recipe.ambient->time : nullptr
                     : recipe.time ? &*recipe.time
                                   : nullptr;
  if (time != nullptr)
    for (const auto& column : time->columns) wanted.time.push_back(&column);
  return wanted;
}

tl::expected<Layout, Failure> find_layout(std::string_view text, const std::string& file, const Format& format,
                                          const Wanted& wanted) {
  if (trimmed(text).empty()) return tl::unexpected(Failure{fmt::format("{}: is empty", file)});
  Layout layout;
  layout.dialect = {format.delimiter.value_or(','), format.blanks, '.', format.quotes ? '"' : '\0', format.comment};
  layout.header = format.header;
  layout.units_line = format.units_line;
  const auto columns = all_columns(wanted);
  std::size_t lines_before = static_cast<std::size_t>(format.preamble.value_or(0));
  if (format.header) {
    auto header = find_header(text, layout.dialect, format, columns);
    lines_before = header.line;
    layout.names = std::move(header.names);
    if (!format.delimiter) layout.dialect.delimiter = header.delimiter;
  } else if (!format.delimiter) {
    layout.dialect.delimiter = likely_delimiter(from_line(text, lines_before), layout.dialect, largest_number(columns));
  }
  layout.preamble = static_cast<int>(lines_before);
  auto rows = rows_of(from_line(text, lines_before), layout.dialect, rows_looked_at);
  const std::size_t not_data = (format.header ? 1U : 0U) + (format.units_line ? 1U : 0U);
  rows.erase(rows.begin(), rows.begin() + static_cast<std::ptrdiff_t>(std::min(not_data, rows.size())));
  layout.columns = rows.empty() ? layout.names.size() : usual_count(rows);
  layout.width = std::max(layout.columns, layout.names.size());
  std::vector<std::string> wrong;
  for (std::size_t i = 0; i < quantity_count; ++i)
    if (wanted.quantities[i] != nullptr) layout.quantities[i] = resolve(*wanted.quantities[i], layout, file, wrong);
  for (const auto* column : wanted.time) layout.time.push_back(resolve(*column, layout, file, wrong));
  if (!wrong.empty()) return tl::unexpected(Failure{fmt::format("{}", fmt::join(wrong, "\n"))});
  layout.dialect.decimal = format.decimal ? *format.decimal : likely_decimal(rows, layout);
  return layout;
}

} // namespace oxherd::daemon::logfile
