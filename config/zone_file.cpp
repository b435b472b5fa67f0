#include "config/zone_file.hpp"

#include <algorithm>
#include <fstream>
#include <system_error>
#include <vector>

#include <fmt/core.h>

#include "config/nearest.hpp"

namespace oxherd::config {
namespace {

namespace fs = std::filesystem;

constexpr std::size_t zone_bytes_max = 1U << 17U; // the largest has less than 4 kB

/// A path below the directory: words of letters, digits, '_', '+' and '-' between single slashes.
bool is_zone_name(std::string_view name) {
  const auto plain = [](char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '_' || c == '+' ||
           c == '-' || c == '/';
  };
  return !name.empty() && name.front() != '/' && name.back() != '/' && name.find("//") == name.npos &&
         std::all_of(name.begin(), name.end(), plain);
}

/// The names of all zones. Those in posix/ and right/ are the same ones again.
std::vector<std::string> zone_names(const fs::path& directory) {
  std::vector<std::string> names;
  std::error_code trouble;
  for (fs::recursive_directory_iterator at{directory, trouble}, end; !trouble && at != end; at.increment(trouble)) {
    const auto name = fs::relative(at->path(), directory, trouble).string();
    if (name == "posix" || name == "right") at.disable_recursion_pending();
    std::error_code none;
    if (at->is_regular_file(none) && is_zone_name(name)) names.push_back(name);
  }
  return names;
}

/// What else a person may have meant.
enum class Wanted { zone, zone_or_offset };

std::string unknown_zone(std::string_view name, const fs::path& directory, Wanted wanted) {
  const auto names = zone_names(directory);
  if (wanted == Wanted::zone) {
    if (names.empty())
      return fmt::format("there are no time zones in {}: install the package tzdata", directory.string());
    const auto meant = nearest(name, names);
    return fmt::format("\"{}\" is no time zone of {}; write {}", name, directory.string(),
                       meant ? fmt::format("perhaps \"{}\"", *meant)
                             : "a name such as \"Europe/Amsterdam\" or \"UTC\"");
  }
  if (names.empty())
    return fmt::format("\"{}\" is no offset from UTC, and there are no time zones in {}: install the package tzdata, "
                       "or write an offset such as \"+01:00\"",
                       name, directory.string());
  const auto near = nearest(name, names);
  return fmt::format("\"{}\" is no offset from UTC and no time zone of {}; {}write \"UTC\", an offset such as "
                     "\"+01:00\", or for a logger that follows summer time its zone, such as \"Europe/Amsterdam\"",
                     name, directory.string(), near ? fmt::format("did you mean \"{}\"? Else ", *near) : "");
}

tl::expected<std::shared_ptr<const ZoneRules>, std::string> load_as(std::string_view name, const fs::path& directory,
                                                                    Wanted wanted) {
  const fs::path file = directory / name;
  std::error_code trouble;
  if (!is_zone_name(name) || !fs::is_regular_file(file, trouble))
    return tl::unexpected(unknown_zone(name, directory, wanted));
  std::string bytes(zone_bytes_max, '\0');
  std::ifstream in{file, std::ios::binary};
  in.read(bytes.data(), static_cast<std::streamsize>(bytes.size()));
  bytes.resize(static_cast<std::size_t>(in.gcount()));
  auto zone = ZoneRules::parse(bytes);
  if (zone) return std::make_shared<const ZoneRules>(std::move(*zone));
  return tl::unexpected(fmt::format("{}: {}; choose another zone, install the package tzdata again{}", file.string(),
                                    zone.error(),
                                    wanted == Wanted::zone ? "" : ", or write an offset such as \"+01:00\""));
}

} // namespace

tl::expected<std::shared_ptr<const ZoneRules>, std::string> load_zone(std::string_view name,
                                                                      const fs::path& directory) {
  return load_as(name, directory, Wanted::zone_or_offset);
}

tl::expected<std::shared_ptr<const ZoneRules>, std::string> load_named_zone(std::string_view name,
                                                                            const fs::path& directory) {
  return load_as(name, directory, Wanted::zone);
}

} // namespace oxherd::config
