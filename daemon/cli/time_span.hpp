#pragma once

#include <optional>
#include <string>
#include <string_view>

#include <tl/expected.hpp>

#include "daemon/cli/arguments.hpp"
#include "daemon/reading_basis.hpp"

namespace oxherd::daemon::cli {

struct TimeSpan {
  WallTime from, to; ///< both belong to it
};

/// Reads --from, --to and --last: RFC 3339 times, and a duration before the end in place of a start.
/// @param last  taken when neither start nor duration is given; empty: from 1970 on
/// @return a sentence that names the option when one is wrong
[[nodiscard]] tl::expected<TimeSpan, std::string> read_time_span(const Arguments& arguments, WallTime now,
                                                                 std::optional<std::string_view> last);

/// The time of one option, or what counts when it is not given.
[[nodiscard]] tl::expected<WallTime, std::string> time_option(const Arguments& arguments, const std::string& option,
                                                              WallTime otherwise);

} // namespace oxherd::daemon::cli
