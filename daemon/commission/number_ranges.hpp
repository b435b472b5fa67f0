#pragma once

#include <string>
#include <string_view>
#include <vector>

#include <tl/expected.hpp>

namespace oxherd::daemon::commission {

/// Both ends belong to it.
struct NumberRange {
  int first = 0, last = 0;
  friend bool operator==(const NumberRange&, const NumberRange&) = default;
};

/// Reads "1-247" or "1,5,10-20": whole numbers within `permitted`, sorted and merged where they touch. The error is a
/// sentence about `what` ("unit", "register").
[[nodiscard]] tl::expected<std::vector<NumberRange>, std::string>
number_ranges(std::string_view text, NumberRange permitted, std::string_view what);

[[nodiscard]] int count_of(const std::vector<NumberRange>& ranges);

} // namespace oxherd::daemon::commission
