#include "daemon/logfile/table_start.hpp"

namespace oxherd::daemon::logfile {

bool is_no_row(const Row& row, const Dialect& dialect) {
  if (row.too_long) return false;
  if (!dialect.comment.empty() && row.bytes.starts_with(dialect.comment)) return true;
  return row.fields.size() <= 1 && trimmed(row.bytes).empty();
}

tl::expected<void, Failure> pass_start(RowReader& rows, const Layout& layout, Row& row,
                                       const std::function<void(const Row&, LineKind)>& show) {
  for (int i = 0; i < layout.preamble; ++i) {
    const auto more = rows.next_line(row);
    if (!more) return tl::unexpected(more.error());
    if (*more) show(row, LineKind::kept);
    if (*more && row.unfinished) --i;
  }
  rows.divide_by(layout.dialect);
  std::vector<LineKind> expected;
  if (layout.header) expected.push_back(LineKind::header);
  if (layout.units_line) expected.push_back(LineKind::units);
  for (std::size_t i = 0; i < expected.size();) {
    const auto more = rows.next(row);
    if (!more) return tl::unexpected(more.error());
    if (!*more) break;
    const bool counts = !is_no_row(row, layout.dialect);
    show(row, counts ? expected[i] : LineKind::kept);
    i += counts ? 1 : 0;
  }
  return {};
}

} // namespace oxherd::daemon::logfile
