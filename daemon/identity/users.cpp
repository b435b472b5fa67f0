#include "daemon/identity/users.hpp"

#include <algorithm>
#include <array>
#include <cerrno>
#include <cstring>
#include <fstream>
#include <sstream>
#include <stdexcept>

#include <sodium.h>
#include <sys/stat.h>
#include <unistd.h>

#include <fmt/core.h>
#include <nlohmann/json.hpp>

#include "daemon/json_member.hpp"
#include "daemon/time_text.hpp"
#include "daemon/whole_file.hpp"

namespace oxherd::daemon::identity {
namespace {

using nlohmann::json;

constexpr std::array<std::string_view, 3> role_names{"viewer", "operator", "engineer"};

void ready() {
  static const int state = sodium_init();
  if (state < 0) throw std::runtime_error("libsodium cannot start: the system gives no random numbers");
}

tl::unexpected<std::string> fault(const std::filesystem::path& file, std::string_view what) {
  return tl::unexpected(fmt::format("{}: {}", file.string(), what));
}

tl::expected<User, std::string> user_in(const json& object) {
  const auto role = role_named(text_in(object, "role"));
  User user{text_in(object, "name"), role.value_or(Role::viewer), text_in(object, "password"),
            text_in(object, "token")};
  if (user.name.empty()) return tl::unexpected(std::string{"a user without a name"});
  if (!role) return tl::unexpected(fmt::format("{} has no role: viewer, operator or engineer", user.name));
  return user;
}

/// None where it is damaged: signing in must not depend on it.
std::vector<UserNote> changes_in(const json& file) {
  std::vector<UserNote> changes;
  const auto list = file.find("changes");
  if (list == file.end() || !list->is_array()) return changes;
  for (const auto& object : *list)
    if (const auto at = parse_rfc3339(text_in(object, "at")))
      changes.push_back(
          {*at, text_in(object, "user"), text_in(object, "event"), text_in(object, "author"), text_in(object, "text")});
  return changes;
}

} // namespace

std::string_view name_of(Role role) { return role_names.at(static_cast<std::size_t>(role)); }

std::optional<Role> role_named(std::string_view name) {
  for (std::size_t i = 0; i < role_names.size(); ++i)
    if (role_names.at(i) == name) return static_cast<Role>(i);
  return std::nullopt;
}

void Users::add(UserNote note) {
  if (!changes.empty()) note.at = std::max(note.at, changes.back().at + std::chrono::milliseconds{1});
  changes.push_back(std::move(note));
  if (changes.size() > changes_kept) changes.erase(changes.begin());
}

tl::expected<Users, std::string> read_users(const std::filesystem::path& state_dir) {
  const auto file = state_dir / users_file_name;
  struct stat about {};
  if (::stat(file.c_str(), &about) != 0) {
    if (errno == ENOENT) return Users{};
    return fault(file, std::strerror(errno));
  }
  if ((about.st_mode & 077U) != 0) return fault(file, "others may read it: chmod 600");
  std::ifstream in{file};
  std::stringstream text;
  text << in.rdbuf();
  if (!in) return fault(file, "cannot be read: it belongs to the user that the daemon runs as");
  const json parsed = json::parse(text.str(), nullptr, false);
  const auto list = parsed.is_object() ? parsed.find("users") : parsed.end();
  if (!parsed.is_object() || list == parsed.end() || !list->is_array())
    return fault(file, "is damaged: remove it, and make the users anew with `oxherd user`");
  Users users;
  for (const auto& object : *list) {
    auto user = user_in(object);
    if (!user) return fault(file, user.error());
    users.all.push_back(std::move(*user));
  }
  users.changes = changes_in(parsed);
  return users;
}

tl::expected<void, std::string> write_users(const std::filesystem::path& state_dir, const Users& users) {
  json list = json::array(), changes = json::array();
  for (const auto& user : users.all)
    list.push_back({{"name", user.name},
                    {"role", name_of(user.role)},
                    {"password", user.password_hash},
                    {"token", user.token_hash}});
  for (const auto& change : users.changes)
    changes.push_back({{"at", rfc3339(change.at)},
                       {"user", change.user},
                       {"event", change.event},
                       {"author", change.author},
                       {"text", change.text}});
  const auto file = state_dir / users_file_name;
  if (auto done = write_whole_file(file, json{{"users", list}, {"changes", changes}}.dump(2) + "\n"); !done)
    return done;
  if (const auto why = give_to_owner_of_folder(file)) return fault(file, std::strerror(why.value()));
  return {};
}

std::string hash_password(const std::string& password) {
  ready();
  std::array<char, crypto_pwhash_STRBYTES> out{};
  if (crypto_pwhash_str_alg(out.data(), password.data(), password.size(), crypto_pwhash_OPSLIMIT_INTERACTIVE,
                            crypto_pwhash_MEMLIMIT_INTERACTIVE, crypto_pwhash_ALG_ARGON2ID13) != 0)
    throw std::runtime_error("no memory to hash a password (64 MiB)");
  return out.data();
}

bool password_fits(const User& user, const std::string& password) {
  ready();
  if (user.password_hash.empty()) {
    pretend_to_check(password);
    return false;
  }
  return crypto_pwhash_str_verify(user.password_hash.c_str(), password.data(), password.size()) == 0;
}

void pretend_to_check(const std::string& password) {
  static const std::string nobodys = hash_password(random_token());
  if (crypto_pwhash_str_verify(nobodys.c_str(), password.data(), password.size()) == 0)
    throw std::runtime_error("somebody knows a random password");
}

std::string random_token() {
  ready();
  std::array<unsigned char, 32> bits{};
  randombytes_buf(bits.data(), bits.size());
  std::array<char, sodium_base64_ENCODED_LEN(bits.size(), sodium_base64_VARIANT_URLSAFE_NO_PADDING)> text{};
  sodium_bin2base64(text.data(), text.size(), bits.data(), bits.size(), sodium_base64_VARIANT_URLSAFE_NO_PADDING);
  return text.data();
}

std::string token_hash(std::string_view token) {
  ready();
  std::array<unsigned char, 32> hash{};
  crypto_generichash(hash.data(), hash.size(), reinterpret_cast<const unsigned char*>(token.data()), token.size(),
                     nullptr, 0);
  std::array<char, hash.size() * 2 + 1> text{};
  sodium_bin2hex(text.data(), text.size(), hash.data(), hash.size());
  return text.data();
}

} // namespace oxherd::daemon::identity
