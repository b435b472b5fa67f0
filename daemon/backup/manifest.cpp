#include "daemon/backup/manifest.hpp"

#include <algorithm>

#include <fmt/core.h>
#include <nlohmann/json.hpp>

#include "daemon/json_depth.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon::backup {
namespace {

using nlohmann::json;

constexpr int depth_most = 4;

KeptFile file_in(const json& object) {
  KeptFile file{object.at("name").get<std::string>(), object.at("bytes").get<std::uint64_t>(),
                object.at("sha256").get<std::string>()};
  if (std::ranges::none_of(parts, [&](const Part& part) { return part.name == file.name; }))
    throw std::runtime_error{fmt::format("\"{}\" is no file of a backup", file.name)};
  return file;
}

} // namespace

tl::unexpected<std::string> failed(const std::filesystem::path& file, const std::error_code& why) {
  return tl::unexpected(fmt::format("{}: {}", file.string(), why.message()));
}

std::string manifest_text(const Manifest& manifest) {
  auto files = json::array();
  for (const auto& file : manifest.files)
    files.push_back({{"name", file.name}, {"bytes", file.bytes}, {"sha256", file.sha256}});
  const json text{{"oxherd", manifest.version},
                  {"made", rfc3339(manifest.made)},
                  {"head", manifest.head ? json(text_of(*manifest.head)) : json(nullptr)},
                  {"files", files}};
  return text.dump(2, ' ', false, json::error_handler_t::replace) + '\n';
}

tl::expected<Manifest, std::string> manifest_from(std::string_view text) {
  if (json_depth(text) > depth_most) return tl::unexpected(std::string{"it is nested too deep"});
  try {
    const auto parsed = json::parse(text);
    Manifest manifest;
    manifest.version = parsed.at("oxherd").get<std::string>();
    const auto made = parse_rfc3339(parsed.at("made").get<std::string>());
    if (!made) return tl::unexpected(std::string{"\"made\" is no time"});
    manifest.made = *made;
    if (const auto& head = parsed.at("head"); !head.is_null()) {
      manifest.head = chain_head_from(head.get<std::string>());
      if (!manifest.head) return tl::unexpected(std::string{"\"head\" is no head of an audit trail"});
    }
    for (const auto& file : parsed.at("files")) manifest.files.push_back(file_in(file));
    return manifest;
  } catch (const std::exception& e) {
    return tl::unexpected(std::string{e.what()});
  }
}

} // namespace oxherd::daemon::backup
