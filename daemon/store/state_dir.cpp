#include "daemon/store/state_dir.hpp"

#include <array>
#include <cerrno>
#include <cstring>
#include <string_view>
#include <utility>

#include <fcntl.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <fmt/core.h>

namespace oxherd::daemon::store {
namespace {

std::string because(std::string_view what, const std::filesystem::path& path) {
  const int code = errno;
  return fmt::format("{} {}: {}{}", what, path.string(), std::strerror(code),
                     code == ENOSPC || code == EDQUOT ? ": disk full" : "");
}

/// The process id in the lock file; empty when its owner could not write it.
std::string owner_in(int lock) {
  std::array<char, 32> text{};
  const ssize_t size = ::pread(lock, text.data(), text.size(), 0);
  std::string owner{text.data(), size > 0 ? static_cast<std::size_t>(size) : 0};
  return owner.substr(0, owner.find_first_not_of("0123456789"));
}

tl::expected<void, std::string> make_directory(const std::filesystem::path& path) {
  std::error_code failed;
  const auto absolute = std::filesystem::absolute(path, failed);
  if (const auto parent = absolute.parent_path(); !std::filesystem::exists(parent, failed))
    std::filesystem::create_directories(parent, failed); // a failure shows below
  if (::mkdir(absolute.c_str(), 0750) == 0 || errno == EEXIST) return {};
  return tl::unexpected(because("cannot make the state directory", absolute));
}

} // namespace

tl::expected<StateDir, std::string> StateDir::claim(const std::filesystem::path& path) {
  if (auto made = make_directory(path); !made) return tl::unexpected(made.error());
  const auto file = path / "lock";
  const int lock = ::open(file.c_str(), O_RDWR | O_CREAT | O_CLOEXEC, 0640);
  if (lock < 0) return tl::unexpected(because("cannot use the state directory: cannot write", file));
  StateDir claimed{lock};
  if (::flock(lock, LOCK_EX | LOCK_NB) != 0) {
    if (errno != EWOULDBLOCK) return tl::unexpected(because("cannot lock", file));
    const std::string owner = owner_in(lock);
    return tl::unexpected(fmt::format("another oxherd{} is using {}: stop it first or give another --state-dir",
                                      owner.empty() ? "" : fmt::format(" (process {})", owner), path.string()));
  }
  // On a full disk the name of the process may be lost; the lock itself needs no room.
  const std::string owner = fmt::format("{}\n", ::getpid());
  if (::ftruncate(lock, 0) == 0) static_cast<void>(::pwrite(lock, owner.data(), owner.size(), 0) < 0);
  return claimed;
}

StateDir::StateDir(StateDir&& other) noexcept : lock_{std::exchange(other.lock_, -1)} {}
StateDir::~StateDir() {
  if (lock_ >= 0) ::close(lock_);
}

} // namespace oxherd::daemon::store
