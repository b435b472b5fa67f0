#include "daemon/whole_file.hpp"

#include <cerrno>
#include <cstring>

#include <fcntl.h>
#include <sys/stat.h>
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

std::error_code give_to_owner_of_folder(const std::filesystem::path& file) {
  struct stat folder {};
  if (::geteuid() == 0 && ::stat(file.parent_path().c_str(), &folder) == 0 &&
      ::chown(file.c_str(), folder.st_uid, folder.st_gid) != 0)
    return {errno, std::generic_category()};
  return {};
}

} // namespace oxherd::daemon
