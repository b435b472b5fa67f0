#include "daemon/cli/log_level.hpp"

#include <algorithm>
#include <array>

#include <fmt/core.h>

#include "config/nearest.hpp"
#include "daemon/cli/text.hpp"

namespace oxherd::daemon::cli {
namespace {

constexpr std::array<std::string_view, 4> log_levels{"debug", "info", "warning",
                                                     "error"}; // as the enumeration has them

} // namespace

Option log_level_option() {
  return {"--log-level", "LEVEL", "debug, info (default), warning or error",
          "info",        true,    {log_levels.begin(), log_levels.end()}};
}

tl::expected<log::Level, std::string> log_level_of(const Arguments& arguments) {
  const auto level = arguments.value_or("--log-level", "info");
  const auto found = std::ranges::find(log_levels, level);
  if (found != log_levels.end()) return static_cast<log::Level>(found - log_levels.begin());
  const auto meant = config::nearest(level, {log_levels.begin(), log_levels.end()});
  return tl::unexpected(fmt::format("--log-level: there is no level \"{}\"; {}", printable(level),
                                    meant ? fmt::format("did you mean \"{}\"?", *meant)
                                          : std::string{"it is debug, info, warning or error"}));
}

} // namespace oxherd::daemon::cli
