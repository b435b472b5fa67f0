#include "daemon/cli/login.hpp"

#include <array>

#include <pwd.h>
#include <unistd.h>

namespace oxherd::daemon::cli {

std::string login_name() {
  std::array<char, 256> buffer{};
  if (getlogin_r(buffer.data(), buffer.size()) == 0 && buffer[0] != '\0') return buffer.data();
  const passwd* entry = getpwuid(getuid()); // one thread only
  return entry == nullptr ? "" : entry->pw_name;
}

} // namespace oxherd::daemon::cli
