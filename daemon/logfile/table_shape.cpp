#include "daemon/logfile/table_shape.hpp"

#include <algorithm>
#include <array>
#include <map>

#include <fmt/core.h>

#include "daemon/logfile/column_unit.hpp"
#include "daemon/logfile/layout.hpp"
#include "daemon/logfile/number.hpp"
#include "daemon/logfile/row.hpp"

namespace oxherd::daemon::logfile {
namespace {

constexpr std::size_t lines_looked_at = 400;
constexpr std::array shape_delimiters{'\t', ';', '|', ','}; // a comma comes last: it may be the decimal mark

/// One line of the file with its fields.
struct ShapeRow {
  std::size_t line = 0; ///< from 1
  std::vector<std::string> fields;
};

std::vector<ShapeRow> divided(std::string_view text, const Dialect& dialect) {
  const RowSplitter splitter{dialect};
  std::vector<ShapeRow> rows;
  std::string scratch;
  Row row;
  for (std::size_t line = 1; !text.empty() && rows.size() < lines_looked_at; line += row.lines) {
    std::size_t used = splitter.split(text, false, row);
    // What has no line end may be the whole file, or was cut; behind other rows it is left out.
    if (used == 0 && rows.empty()) used = splitter.split(text, true, row);
    if (used == 0) break;
    text.remove_prefix(used);
    if (trimmed(row.bytes).empty()) continue;
    auto& kept = rows.emplace_back(ShapeRow{line, {}});
    for (std::size_t i = 0; i < row.fields.size(); ++i)
      kept.fields.push_back(as_utf8(content_of(row.field(i), dialect, scratch)));
  }
  return rows;
}

bool is_number(std::string_view text) { return parse_number(text, '.') || parse_number(text, ','); }

bool has_number(const ShapeRow& row) { return std::any_of(row.fields.begin(), row.fields.end(), is_number); }

/// The number of fields that most rows with a number have, and how many rows that are.
std::pair<std::size_t, std::size_t> usual_width(const std::vector<ShapeRow>& rows) {
  std::map<std::size_t, std::size_t> counts;
  for (const auto& row : rows)
    if (has_number(row)) ++counts[row.fields.size()];
  std::pair<std::size_t, std::size_t> best{0, 0};
  for (const auto& [width, n] : counts)
    if (n > best.second) best = {width, n};
  return best;
}

/// The dialect by which nine in ten rows with a number have one width; blanks divide when nothing else does.
bool find_dialect(std::string_view text, Dialect& dialect, std::vector<ShapeRow>& rows) {
  for (std::size_t i = 0; i <= shape_delimiters.size(); ++i) {
    dialect.blanks = i == shape_delimiters.size();
    dialect.delimiter = dialect.blanks ? ' ' : shape_delimiters.at(i);
    rows = divided(text, dialect);
    const auto [width, alike] = usual_width(rows);
    const auto with_number = std::count_if(rows.begin(), rows.end(), has_number);
    if (width >= 2 && alike * 10 >= static_cast<std::size_t>(with_number) * 9) return true;
  }
  return false;
}

bool names_units(const std::vector<std::string>& fields) {
  const auto known = std::count_if(fields.begin(), fields.end(), [](const auto& f) { return !units_in(f).empty(); });
  const auto there = std::count_if(fields.begin(), fields.end(), [](const auto& f) { return !f.empty(); });
  return known > 0 && 2 * known >= there;
}

void find_decimal(TableShape& shape) {
  std::size_t points = 0;
  std::size_t commas = 0;
  for (const auto& row : shape.rows)
    for (const auto& field : row) {
      points += field.find('.') != field.npos && parse_number(field, '.') ? 1 : 0;
      commas += field.find(',') != field.npos && parse_number(field, ',') ? 1 : 0;
    }
  shape.dialect.decimal = commas > points ? ',' : '.';
  shape.decimal_seen = commas + points > 0;
}

} // namespace

tl::expected<TableShape, Failure> shape_of(std::string_view text, const std::string& file) {
  TableShape shape;
  std::vector<ShapeRow> rows;
  if (!find_dialect(text, shape.dialect, rows))
    return tl::unexpected(Failure{fmt::format("{}: no table was found in it: neither tab, semicolon, bar, comma nor "
                                              "blanks divide its rows into equally many fields, some of them numbers",
                                              file)});
  const std::size_t width = usual_width(rows).first;
  const auto first = std::find_if(rows.begin(), rows.end(),
                                  [&](const auto& row) { return row.fields.size() == width && has_number(row); });
  shape.first_line = first->line;
  // The lines right above the first row: a header, or a header and its units.
  const auto above = static_cast<std::size_t>(first - rows.begin());
  const auto divides = [&](std::size_t up) {
    return up <= above && (first - static_cast<std::ptrdiff_t>(up))->fields.size() >= 2 &&
           !has_number(*(first - static_cast<std::ptrdiff_t>(up)));
  };
  std::size_t header_up = divides(1) ? 1 : 0;
  if (header_up == 1 && divides(2) && names_units((first - 1)->fields)) {
    shape.units = (first - 1)->fields;
    shape.units.resize(width);
    header_up = 2;
  }
  if (header_up > 0) {
    const auto& header = *(first - static_cast<std::ptrdiff_t>(header_up));
    shape.header_line = header.line;
    shape.names = header.fields;
  }
  shape.names.resize(width);
  for (auto row = first; row != rows.end(); ++row) {
    if (row->fields.size() == width)
      shape.rows.push_back(std::move(row->fields));
    else if (!row->fields.empty() && row->fields.front().starts_with('#'))
      shape.dialect.comment = "#";
  }
  find_decimal(shape);
  return shape;
}

} // namespace oxherd::daemon::logfile
