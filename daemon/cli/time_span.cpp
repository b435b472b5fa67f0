#include "daemon/cli/time_span.hpp"

#include <chrono>
#include <cmath>

#include <fmt/core.h>

#include "compensation/units.hpp"
#include "daemon/cli/text.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon::cli {

tl::expected<WallTime, std::string> time_option(const Arguments& arguments, const std::string& option,
                                                WallTime otherwise) {
  const auto typed = arguments.value(option);
  if (!typed) return otherwise;
  const auto time = parse_rfc3339(*typed);
  if (time) return *time;
  return tl::unexpected(fmt::format("{}: \"{}\" is not a time; write it with its offset, such as "
                                    "\"2026-03-01T08:00:00+01:00\" or \"2026-03-01T07:00:00Z\"",
                                    option, printable(*typed)));
}

tl::expected<TimeSpan, std::string> read_time_span(const Arguments& arguments, WallTime now,
                                                   std::optional<std::string_view> last) {
  if (arguments.given("--last") && arguments.given("--from"))
    return tl::unexpected(std::string{"--last and --from exclude each other"});
  const auto to = time_option(arguments, "--to", now);
  if (!to) return tl::unexpected(to.error());
  auto earliest = WallTime{};
  const auto typed = arguments.value("--last");
  if (typed || last) {
    const auto length_s =
        compensation::parse_quantity(typed ? *typed : std::string{*last}, compensation::Dimension::duration);
    if (!length_s) return tl::unexpected(fmt::format("--last: {}", length_s.error().message));
    if (*length_s <= 0.0 || *length_s > 1e10)
      return tl::unexpected(std::string{"--last: write a duration such as \"2h\""});
    earliest = *to - std::chrono::milliseconds{std::llround(*length_s * 1e3)};
  }
  const auto from = time_option(arguments, "--from", earliest);
  if (!from) return tl::unexpected(from.error());
  if (*from >= *to) return tl::unexpected(std::string{"the start lies after the end: nothing can be in between"});
  return TimeSpan{*from, *to};
}

} // namespace oxherd::daemon::cli
