#pragma once

#include <functional>

#include <tl/expected.hpp>

#include "daemon/logfile/input.hpp"
#include "daemon/logfile/layout.hpp"

namespace oxherd::daemon::logfile {

/// What a line before the first row is.
enum class LineKind { kept, header, units };

/// Whether this is a line without data: empty, or a comment.
[[nodiscard]] bool is_no_row(const Row& row, const Dialect& dialect);

/// Takes everything before the first row off the reader, and shows it line by line.
[[nodiscard]] tl::expected<void, Failure> pass_start(RowReader& rows, const Layout& layout, Row& row,
                                                     const std::function<void(const Row&, LineKind)>& show);

} // namespace oxherd::daemon::logfile
