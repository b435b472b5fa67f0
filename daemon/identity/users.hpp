#pragma once

#include <chrono>
#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include <tl/expected.hpp>

#include "daemon/reading_basis.hpp"

// Who may see and do what over the network. The Unix socket needs none of it: there the socket's group decides.
namespace oxherd::daemon::identity {

/// Each may do what those before it may.
enum class Role {
  viewer,    ///< sees everything, changes nothing
  operator_, ///< acknowledges, silences, shelves, resets, says what the regime is, calibrates
  engineer   ///< takes alarms out of service, withdraws calibrations, tests outputs
};
/// "viewer", "operator", "engineer".
[[nodiscard]] std::string_view name_of(Role role);
[[nodiscard]] std::optional<Role> role_named(std::string_view name);

struct User {
  std::string name; ///< as the journal names the author
  Role role = Role::viewer;
  std::string password_hash; ///< argon2id, in the form of libsodium; empty: only by token
  std::string token_hash;    ///< BLAKE2b of a program's token, hexadecimal; empty: none
  friend bool operator==(const User&, const User&) = default;
};

/// Something about a user that the journal is to keep: made, changed, removed, signed in.
struct UserNote {
  WallTime at;
  std::string user;
  std::string event;  ///< "user-made", "role-changed", "password-set", "token-made", "user-removed"; "signed-in", ...
  std::string author; ///< who did it; empty: nobody that is known
  std::string text;   ///< a sentence for a person, without any secret
  friend bool operator==(const UserNote&, const UserNote&) = default;
};

/// Who may sign in, and what was lately changed of that, oldest first: the daemon journals what it has not journaled.
struct Users {
  static constexpr std::size_t changes_kept = 200;
  std::vector<User> all;
  std::vector<UserNote> changes; ///< each later than the one before it

  /// At `note.at`, or a moment later where the clock would not tell it from the change before.
  void add(UserNote note);
  friend bool operator==(const Users&, const Users&) = default;
};

/// The file `users.json` of the state directory, which only its owner may read.
inline constexpr const char* users_file_name = "users.json";

/// @return none when there is no file; an error names the file, and what is wrong with it or with who may read it
[[nodiscard]] tl::expected<Users, std::string> read_users(const std::filesystem::path& state_dir);
/// Writes the file anew, whole or not at all, for the owner of the directory alone.
[[nodiscard]] tl::expected<void, std::string> write_users(const std::filesystem::path& state_dir, const Users& users);

/// At least this many characters; nothing else is asked of a password (NIST SP 800-63B, 5.1.1.2, from memory).
inline constexpr std::size_t password_length_min = 10;

/// Argon2id with libsodium's interactive limits (64 MiB, two passes): a tenth of a second or so, on a thread where
/// nobody waits.
/// @throws std::runtime_error without memory for it
[[nodiscard]] std::string hash_password(const std::string& password);
[[nodiscard]] bool password_fits(const User& user, const std::string& password);
/// Takes as long as a password that does not fit, so that nobody learns which names there are.
void pretend_to_check(const std::string& password);

/// 256 random bits, for URLs.
[[nodiscard]] std::string random_token();
[[nodiscard]] std::string token_hash(std::string_view token);

} // namespace oxherd::daemon::identity
