#pragma once

#include <chrono>
#include <map>
#include <optional>
#include <string>
#include <string_view>

#include "daemon/identity/users.hpp"

namespace oxherd::daemon::identity {

using Monotonic = std::chrono::milliseconds;

/// Whoever asks: by the cookie of a session, or by a program's token.
struct Person {
  std::string name;
  Role role = Role::viewer;
  std::string csrf; ///< what a change by cookie must bring in a header; empty for a token, which no browser sends alone
};

/// Who has signed in. Not kept over a restart of the daemon. Time is an argument.
class Sessions {
public:
  static constexpr std::chrono::hours idle_at_most{12}; ///< a shift; proposal of the project
  static constexpr std::size_t kept_at_most = 1000;     ///< beyond, the one that was idle for longest goes

  struct Opened {
    std::string cookie;
    Person person;
  };
  [[nodiscard]] Opened open(const User& user, Monotonic now);
  /// Empty when there is no such session, or no longer; else it counts as used.
  [[nodiscard]] std::optional<Person> find(std::string_view cookie, Monotonic now);
  void close(std::string_view cookie);
  /// What the users are now: sessions of those that are gone, or whose password changed, end; roles follow.
  void follow(const std::vector<User>& users);

private:
  struct Session {
    Person person;
    std::string password_hash; ///< with which it was opened
    Monotonic used{0};
  };
  std::map<std::string, Session, std::less<>> sessions_; ///< by the hash of the cookie
};

/// How often somebody may try to sign in: five times at once, then once in twelve seconds, for each name and for each
/// address. Proposal of the project.
class SignInBrake {
public:
  static constexpr int tries_at_once = 5;
  static constexpr std::chrono::seconds one_more_after{12};
  static constexpr std::size_t kept_at_most = 10000;

  /// Empty: go ahead, and it is counted. Else how long to wait.
  [[nodiscard]] std::optional<Monotonic> ask(const std::string& key, Monotonic now);
  void forget(const std::string& key) { spent_.erase(key); } ///< who has signed in owes nothing

private:
  std::map<std::string, Monotonic> spent_; ///< the time at which all tries are there again
};

} // namespace oxherd::daemon::identity
