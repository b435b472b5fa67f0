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

bool is_somebody(std::string_view author) { return author.find_first_not_of(' ') != std::string_view::npos; }

} // namespace oxherd::daemon::cli
