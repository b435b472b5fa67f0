#pragma once

#include <chrono>
#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include <tl/expected.hpp>

#include "config/load.hpp"

// The settings file of `oxherd collect`: man/oxherd-collect.toml.5 describes it.
namespace oxherd::daemon::collect {

/// [database]
struct DatabaseSettings {
  std::string host = "/var/run/postgresql"; ///< a folder with its socket, a name or an address
  int port = 5432;
  std::string name = "oxherd";
  std::optional<std::string> user;          ///< default: as whom the program runs
  std::optional<std::string> password_file; ///< read at each connect
  std::optional<std::string> ca_file;       ///< other machines: by TLS, certificate and name are checked
  std::chrono::milliseconds flush_every{200};
};

struct CollectSettings {
  config::Mqtt mqtt;
  std::vector<std::string> sites; ///< empty: all
  std::chrono::seconds session_kept{std::chrono::hours{24 * 30}};
  DatabaseSettings database;
  std::optional<config::Http> http; ///< none: no page
};

struct LoadedCollect {
  CollectSettings settings;
  std::vector<config::Problem> warnings;
};

/// Reads and checks the whole file; every problem found is reported, sorted by line.
[[nodiscard]] tl::expected<LoadedCollect, std::vector<config::Problem>>
load_collect_settings(const std::filesystem::path& file);
/// The same of a text; `name` stands in for the file in messages.
[[nodiscard]] tl::expected<LoadedCollect, std::vector<config::Problem>> parse_collect_settings(std::string_view text,
                                                                                               std::string_view name);

/// What to subscribe to.
[[nodiscard]] std::vector<std::string> topic_filters(const CollectSettings& settings);

/// The words that libpq connects by. It does not wait for ever: not for a connection, nor for a server that is gone.
/// The error is a sentence about the password file.
[[nodiscard]] tl::expected<std::string, std::string> connection_words(const DatabaseSettings& database);

} // namespace oxherd::daemon::collect
