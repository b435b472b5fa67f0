#pragma once

#include <filesystem>
#include <string>
#include <utility>

#include <fcntl.h>
#include <sched.h>
#include <sys/mount.h>
#include <sys/wait.h>
#include <unistd.h>

#include <gtest/gtest.h>

/// A disk that is really full, for the tests of whatever writes to one.
namespace oxherd::daemon::store_test {

/// Runs a scenario in a child process; its failed expectations are printed there and fail the test here.
inline constexpr int cannot_mount = 77;
template <class Scenario> int exit_code_of_child(Scenario scenario) {
  const pid_t child = ::fork();
  if (child == 0) {
    const int code = scenario();
    ::_exit(code != 0 ? code : (testing::Test::HasFailure() ? 1 : 0));
  }
  int status = 0;
  EXPECT_EQ(::waitpid(child, &status, 0), child);
  return WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
}

/// A small disk of its own, seen by this process only. Needs a user name space, or root.
inline bool mount_small_disk(const std::filesystem::path& place, const char* options) {
  if (::unshare(::geteuid() == 0 ? CLONE_NEWNS : CLONE_NEWNS | CLONE_NEWUSER) != 0) return false;
  ::mount(nullptr, "/", nullptr, MS_REC | MS_PRIVATE, nullptr);
  return ::mount("tmpfs", place.c_str(), "tmpfs", 0, options) == 0;
}

/// A file that takes all the room there is, to the last block.
class Filler {
public:
  explicit Filler(std::filesystem::path file) : file_{std::move(file)} { fill(); }
  void fill() {
    const int descriptor = ::open(file_.c_str(), O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC, 0600);
    const std::string block(4096, 'x');
    while (::write(descriptor, block.data(), block.size()) > 0) {}
    ::close(descriptor);
  }
  void make_room() { std::filesystem::remove(file_); }

private:
  std::filesystem::path file_;
};

} // namespace oxherd::daemon::store_test
