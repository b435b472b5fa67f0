#include "daemon/cli/room_settings.hpp"

#include <algorithm>

#include <fmt/core.h>

#include "config/load.hpp"
#include "config/nearest.hpp"
#include "daemon/cli/cell_records.hpp"
#include "daemon/cli/profile_dirs.hpp"
#include "daemon/cli/text.hpp"

namespace oxherd::daemon::cli {
tl::expected<config::Settings, std::string> settings_of(const Arguments& arguments) {
  auto loaded = config::load(config_file_of(arguments), profile_dirs());
  if (loaded) return std::move(loaded->settings);
  const auto first = std::ranges::find(loaded.error(), config::Severity::error, &config::Problem::severity);
  return tl::unexpected(printable(config::to_string(*first)));
}

tl::expected<const config::Room*, std::string> room_of(const config::Settings& settings, const std::string& name) {
  if (const auto* room = config::room_named(settings.rooms, name)) return room;
  std::vector<std::string> names;
  for (const auto& room : settings.rooms) names.push_back(room.name);
  const auto meant = config::nearest(name, names);
  return tl::unexpected(fmt::format("there is no room \"{}\" in {}{}", printable(name), printable(settings.file),
                                    meant ? fmt::format("; did you mean \"{}\"?", *meant) : std::string{}));
}

} // namespace oxherd::daemon::cli
