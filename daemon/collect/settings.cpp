#include "daemon/collect/settings.hpp"

#include <algorithm>

#include <fmt/core.h>

#include "config/sections.hpp"
#include "daemon/mqtt/password_file.hpp"

namespace oxherd::daemon::collect {
namespace {

using compensation::Dimension;
using config::Problem;
using config::Problems;
using config::QuantityRule;
using config::TableReader;

constexpr QuantityRule session_span{Dimension::duration, 60.0, 366.0 * 86400.0, "1 min to 366 d"};
constexpr QuantityRule flush_span{Dimension::duration, 0.01, 10.0, "10 ms to 10 s"};
constexpr config::IntegerRule port_span{1, 65535};

bool is_on_this_machine(std::string_view host) {
  return host.starts_with('/') || host == "localhost" || host == "::1" || host.starts_with("127.");
}

void read_broker_part(TableReader in, CollectSettings& settings) {
  settings.sites = in.texts("sites");
  for (const auto& site : settings.sites)
    if (!config::is_name(site)) in.error("sites", fmt::format("\"{}\" cannot be the name of a site", site));
  if (const auto t = in.duration("session_kept", session_span))
    settings.session_kept = std::chrono::duration_cast<std::chrono::seconds>(*t);
  in.refuse("pack", "belongs to a daemon's file, which makes the packs");
  in.refuse("queue_max", "belongs to a daemon's file; what waits for the historian waits in the broker");
  in.refuse("sparkplug", "belongs to a daemon's file; the historian publishes nothing");
  config::Site as_client;
  as_client.name = "collect"; // of the default client_id
  settings.mqtt = config::read_mqtt(in, as_client);
}

DatabaseSettings read_database(TableReader in) {
  DatabaseSettings database;
  database.host = in.text("host").value_or(database.host);
  database.port = in.integer("port", port_span).value_or(database.port);
  database.name = in.text("name").value_or(database.name);
  database.user = in.text("user");
  database.password_file = in.text("password_file");
  database.ca_file = in.text("ca_file");
  database.flush_every = in.duration("flush_every", flush_span).value_or(database.flush_every);
  if (in.has("password"))
    in.error("password", "a password is not kept in this file, which many may read; put it into a file of its own that "
                         "only the program can read and name that with password_file");
  for (const auto& [key, value] : {std::pair{"host", database.host}, {"name", database.name}})
    if (value.empty()) in.error(key, "is empty; leave it out for the default");
  if (database.password_file && !database.user) in.error("password_file", "needs a user as well");
  if (database.ca_file && is_on_this_machine(database.host))
    in.error("ca_file", "is only used with a database on another machine");
  in.finish();
  return database;
}

CollectSettings read_settings(TableReader& in) {
  CollectSettings settings;
  if (auto mqtt = in.table("mqtt"))
    read_broker_part(*mqtt, settings);
  else if (!in.has("mqtt"))
    in.error("mqtt", "missing; [mqtt] with broker = \"mqtt://127.0.0.1:1883\" says where the sites publish");
  if (auto database = in.table("database")) settings.database = read_database(*database);
  settings.http = config::Http{};
  if (auto http = in.table("http")) settings.http = config::read_http(*http);
  in.finish();
  return settings;
}

tl::expected<LoadedCollect, std::vector<Problem>> parse_text(std::string_view text, Problems problems) {
  LoadedCollect loaded;
  if (const auto root = config::read_document(text, problems)) {
    TableReader in{*root, {1, 1}, "", problems};
    loaded.settings = read_settings(in);
  }
  auto all = problems.sorted();
  if (problems.has_errors()) return tl::unexpected(std::move(all));
  loaded.warnings = std::move(all);
  return loaded;
}

/// A value as libpq reads it: in quotes, with a backslash before quotes and backslashes.
std::string in_quotes(std::string_view value) {
  std::string out = "'";
  for (const char c : value) {
    if (c == '\'' || c == '\\') out += '\\';
    out += c;
  }
  return out + '\'';
}

} // namespace

tl::expected<LoadedCollect, std::vector<Problem>> load_collect_settings(const std::filesystem::path& file) {
  Problems problems{file.string()};
  const auto text = config::read_text(file.string(), problems);
  if (!text) return tl::unexpected(problems.sorted());
  return parse_text(*text, std::move(problems));
}

tl::expected<LoadedCollect, std::vector<Problem>> parse_collect_settings(std::string_view text, std::string_view name) {
  return parse_text(text, Problems{std::string{name}});
}

std::vector<std::string> topic_filters(const CollectSettings& settings) {
  std::vector<std::string> filters;
  for (const auto& site : settings.sites) filters.push_back(settings.mqtt.prefix + "/" + site + "/#");
  if (filters.empty()) filters.push_back(settings.mqtt.prefix + "/+/#");
  return filters;
}

tl::expected<std::string, std::string> connection_words(const DatabaseSettings& database) {
  auto words = fmt::format("host={} port={} dbname={} application_name=oxherd connect_timeout=5 tcp_user_timeout=10000 "
                           "keepalives_idle=5 keepalives_interval=5 keepalives_count=2",
                           in_quotes(database.host), database.port, in_quotes(database.name));
  if (!is_on_this_machine(database.host)) words += " sslmode=verify-full";
  if (database.ca_file) words += " sslrootcert=" + in_quotes(*database.ca_file);
  if (database.user) words += " user=" + in_quotes(*database.user);
  if (database.password_file) {
    const auto password = read_secret("database.password_file", *database.password_file);
    if (!password) return tl::unexpected(password.error());
    words += " password=" + in_quotes(*password);
  }
  return words;
}

} // namespace oxherd::daemon::collect
