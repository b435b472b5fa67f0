#include "config/load.hpp"

#include <algorithm>
#include <utility>

#include "config/notify_sections.hpp"
#include "config/sections.hpp"

namespace oxherd::config {
namespace {

Settings read_settings(TableReader& in, ProfileShelf& shelf) {
  Settings settings;
  settings.file = in.problems().file();
  if (auto site = in.table("site"))
    settings.site = read_site(*site);
  else if (!in.has("site"))
    in.error("site", "missing; every file needs [site] with name and elevation");
  if (auto mqtt = in.table("mqtt")) settings.mqtt = read_mqtt(*mqtt, settings.site);
  if (auto store = in.table("store")) settings.store = read_store(*store);
  if (auto http = in.table("http")) settings.http = read_http(*http);
  if (auto buses = in.table("bus"))
    buses->each_named("bus",
                      [&](const std::string& name, TableReader one) { settings.buses.push_back(read_bus(name, one)); });
  // Before the rooms: one that answers for an output has an alarm about it.
  if (auto outputs = in.table("output"))
    outputs->each_named("output", [&](const std::string& name, TableReader one) {
      settings.outputs.push_back(read_output(name, one, settings.buses));
    });
  if (auto rooms = in.table("room"))
    rooms->each_named("room", [&](const std::string& name, TableReader one) {
      const bool first = settings.rooms.empty();
      const bool answers = std::any_of(settings.outputs.begin(), settings.outputs.end(),
                                       [&](const Output& output) { return answers_for(name, first, output.kind); });
      settings.rooms.push_back(
          read_room(name, one, {settings.site, settings.buses, shelf, Regime::occupied, answers, &settings.outputs}));
    });
  if (settings.rooms.empty() && !in.has("room")) in.error("room", "missing; nothing would be monitored");
  settings.notify = read_notify(in, settings.site, settings.mqtt);
  if (auto watcher = in.table("watcher")) settings.watcher = read_watcher(*watcher);
  in.finish();
  return settings;
}

tl::expected<Loaded, std::vector<Problem>> parse_text(std::string_view text, Problems problems, ProfileShelf shelf,
                                                      Purpose purpose) {
  Loaded loaded;
  if (const auto root = read_document(text, problems)) {
    TableReader in{*root, {1, 1}, "", problems};
    loaded.settings = read_settings(in, shelf);
    cross_check(loaded.settings, *root, problems, purpose);
  }
  for (const auto& of_profile : shelf.problems()) problems.include(of_profile);
  auto all = problems.sorted();
  if (problems.has_errors()) return tl::unexpected(std::move(all));
  loaded.warnings = std::move(all);
  return loaded;
}

} // namespace

tl::expected<Loaded, std::vector<Problem>>
load(const std::filesystem::path& file, const std::vector<std::filesystem::path>& profile_dirs, Purpose purpose) {
  Problems problems{file.string()};
  const auto text = read_text(file.string(), problems);
  if (!text) return tl::unexpected(problems.sorted());
  std::vector<std::filesystem::path> directories{file.parent_path() / "profiles"};
  directories.insert(directories.end(), profile_dirs.begin(), profile_dirs.end());
  return parse_text(*text, std::move(problems), ProfileShelf{std::move(directories)}, purpose);
}

tl::expected<Loaded, std::vector<Problem>> parse(std::string_view text, std::string_view name,
                                                 const std::vector<std::filesystem::path>& profile_dirs,
                                                 Purpose purpose) {
  return parse_text(text, Problems{std::string{name}}, ProfileShelf{profile_dirs}, purpose);
}

} // namespace oxherd::config
