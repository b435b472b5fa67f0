#pragma once

#include <filesystem>
#include <string>

#include "daemon/identity/users.hpp"
#include "daemon/records.hpp"

namespace oxherd::daemon {

/// Lines of the journal about users stand under "user/NAME" when a user was changed and "sign-in/NAME" when one signed
/// in: no alarm can be called that.
[[nodiscard]] AlarmRecord journal_line(identity::UserNote note);

/// Which changes of users the journal has already: the file of users tells them again at every start.
class UsersNoted {
public:
  /// @param until  time of the last change that the journal has
  explicit UsersNoted(WallTime until) : until_{until} {}
  /// False: the journal has it. Signing in is always news.
  [[nodiscard]] bool take(const identity::UserNote& note);

private:
  WallTime until_;
};

/// From the journal. Blocks.
[[nodiscard]] UsersNoted load_users_noted(const std::filesystem::path& state_dir, WallTime now);

} // namespace oxherd::daemon
