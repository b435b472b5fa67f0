#include "daemon/cli/init_surroundings.hpp"

#include <algorithm>
#include <array>
#include <cctype>

#include <unistd.h>

#include "config/zone_file.hpp"
#include "daemon/cli/profile_dirs.hpp"

namespace oxherd::daemon::cli {
namespace {

/// The first part of the machine's name, in small letters as names of sites are.
std::string host_name() {
  std::array<char, 256> buffer{};
  if (gethostname(buffer.data(), buffer.size() - 1) != 0) return "";
  std::string name{buffer.data()};
  name.resize(std::min(name.find('.'), name.size()));
  std::ranges::transform(name, name.begin(), [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
  return name;
}

/// The zone that /etc/localtime links to (man localtime), where it is one that can be loaded.
std::string machine_zone() {
  std::error_code fault;
  const auto link = std::filesystem::read_symlink("/etc/localtime", fault).string();
  constexpr std::string_view folder = "zoneinfo/";
  const auto at = link.find(folder);
  if (fault || at == link.npos) return "";
  auto name = link.substr(at + folder.size());
  return config::load_named_zone(name) ? name : "";
}

commission::OfferedProfile offer(const config::Profile& profile, bool own) {
  commission::OfferedProfile offered{profile.name, own, {}, false};
  for (const auto& point : profile.points) {
    offered.measurands.push_back(point.measured.measurand);
    if (point.measured.measurand == config::Measurand::oxygen)
      offered.gives_signal = point.dimension == compensation::Dimension::voltage;
  }
  return offered;
}

} // namespace

commission::Surroundings surroundings_of(const std::filesystem::path& settings_file) {
  commission::Surroundings around{host_name(), machine_zone(), {}, {settings_file.parent_path() / "profiles"}};
  const config::ProfileShelf own{around.profile_dirs};
  for (auto& dir : profile_dirs()) around.profile_dirs.push_back(std::move(dir));
  config::ProfileShelf all{around.profile_dirs};
  for (const auto& name : all.names())
    if (const auto* profile = all.find(name)) around.profiles.push_back(offer(*profile, own.exists(name)));
  return around;
}

} // namespace oxherd::daemon::cli
