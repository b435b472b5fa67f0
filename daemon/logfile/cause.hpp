#pragma once

#include <cstddef>
#include <cstdint>
#include <string_view>

#include "daemon/logfile/recipe.hpp"

namespace oxherd::daemon::logfile {

/// What can be wrong with one input of a row.
enum class Trouble : std::uint8_t {
  missing,
  not_a_number,
  outside, ///< of the span that any room has
  too_far, ///< the second file has no value near enough in time
  assumed  ///< one of the above, and the recipe's value stands in: the row is uncertain, not bad
};
inline constexpr std::size_t trouble_count = 5;

/// Why a row is marked, as a small number: an input with its trouble, or one of those below.
using Cause = std::uint8_t;
inline constexpr std::size_t input_causes = quantity_count * trouble_count;
[[nodiscard]] constexpr Cause cause_of(Quantity quantity, Trouble trouble) {
  return static_cast<Cause>(static_cast<std::size_t>(quantity) * trouble_count + static_cast<std::size_t>(trouble));
}
inline constexpr Cause fewer_fields = input_causes;
inline constexpr Cause more_fields = input_causes + 1;
inline constexpr Cause open_quote = input_causes + 2;
inline constexpr Cause too_long = input_causes + 3;
inline constexpr Cause time_unreadable = input_causes + 4; ///< bad when the time is needed, else uncertain
inline constexpr Cause no_reading = input_causes + 5;      ///< the equations refuse these values together
inline constexpr Cause near_zero = input_causes + 6;       ///< uncertain
inline constexpr Cause time_skipped = input_causes + 7;    ///< in spring; bad when the time is needed, else uncertain
inline constexpr Cause time_twice = input_causes + 8;      ///< in autumn, and the rows do not tell which; uncertain
inline constexpr std::size_t cause_count = input_causes + 9;

/// For a remark and a summary: ASCII, without delimiter, quote or decimal mark.
[[nodiscard]] std::string_view text_of(Cause cause);

} // namespace oxherd::daemon::logfile
