#include "daemon/store/ballast.hpp"

#include <cerrno>

#include <fcntl.h>
#include <unistd.h>

namespace oxherd::daemon::store {

bool Ballast::restore() const {
  std::error_code failed;
  if (std::filesystem::file_size(file_, failed) == static_cast<std::uintmax_t>(bytes) && !failed) return true;
  const int file = ::open(file_.c_str(), O_WRONLY | O_CREAT | O_CLOEXEC, 0640);
  const int problem = file < 0 ? errno : ::posix_fallocate(file, 0, bytes);
  if (file >= 0) ::close(file);
  const bool no_room = problem == ENOSPC || problem == EDQUOT || problem == EFBIG;
  if (no_room) std::filesystem::remove(file_, failed); // what it got in part belongs to others
  return !no_room;
}

bool Ballast::release() const {
  std::error_code failed;
  return std::filesystem::remove(file_, failed);
}

} // namespace oxherd::daemon::store
