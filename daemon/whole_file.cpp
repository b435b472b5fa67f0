#include "daemon/whole_file.hpp"

#include <cerrno>
#include <cstring>

#include <fcntl.h>
#include <unistd.h>

namespace oxherd::daemon {

tl::expected<void, std::string> write_whole_file(const std::filesystem::path& file, std::string_view text) {
  const auto failed = [](const std::string& name, int why) { return tl::unexpected(name + ": " + std::strerror(why)); };
  const std::string fresh = file.string() + ".new";
  const int fd = ::open(fresh.c_str(), O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0600);
  if (fd < 0) return failed(fresh, errno);
  const bool written = ::write(fd, text.data(), text.size()) == static_cast<ssize_t>(text.size()) && ::fsync(fd) == 0;
  const int why = errno;
  ::close(fd);
  if (!written) return failed(fresh, why);
  if (::rename(fresh.c_str(), file.c_str()) != 0) return failed(file.string(), errno);
  return {};
}

} // namespace oxherd::daemon
