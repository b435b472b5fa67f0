#include "daemon/commission/number_ranges.hpp"

#include <algorithm>
#include <charconv>
#include <optional>

#include <fmt/core.h>

namespace oxherd::daemon::commission {
namespace {

std::optional<int> number_in(std::string_view text) {
  int number = 0;
  const auto [end, fault] = std::from_chars(text.data(), text.data() + text.size(), number);
  if (fault != std::errc{} || end != text.data() + text.size() || number < 0) return std::nullopt;
  return number;
}

std::vector<NumberRange> merged(std::vector<NumberRange> ranges) {
  std::ranges::sort(ranges, {}, &NumberRange::first);
  std::vector<NumberRange> out;
  for (const auto& range : ranges)
    if (!out.empty() && range.first <= out.back().last + 1)
      out.back().last = std::max(out.back().last, range.last);
    else
      out.push_back(range);
  return out;
}

} // namespace

tl::expected<std::vector<NumberRange>, std::string> number_ranges(std::string_view text, NumberRange permitted,
                                                                  std::string_view what) {
  std::vector<NumberRange> ranges;
  const std::string all{text};
  for (bool more = true; more;) {
    const auto comma = text.find(',');
    more = comma != text.npos;
    const auto part = text.substr(0, comma);
    if (more) text.remove_prefix(comma + 1);
    const auto dash = part.find('-');
    const auto first = number_in(part.substr(0, dash));
    const auto last = dash == part.npos ? first : number_in(part.substr(dash + 1));
    if (!first || !last)
      return tl::unexpected(fmt::format("\"{}\" names no {}s; write a number, a range such as {}-{}, or several with "
                                        "commas and without blanks",
                                        all, what, permitted.first, permitted.last));
    if (*first > *last)
      return tl::unexpected(fmt::format("the range {} begins above its end; write {}-{}", part, *last, *first));
    if (*first < permitted.first || *last > permitted.last)
      return tl::unexpected(fmt::format("{} is outside the {}s {} to {}", part, what, permitted.first, permitted.last));
    ranges.push_back({*first, *last});
  }
  return merged(std::move(ranges));
}

int count_of(const std::vector<NumberRange>& ranges) {
  int count = 0;
  for (const auto& range : ranges) count += range.last - range.first + 1;
  return count;
}

} // namespace oxherd::daemon::commission
