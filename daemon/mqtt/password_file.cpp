#include "daemon/mqtt/password_file.hpp"

#include <array>
#include <cerrno>
#include <system_error>

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <fmt/core.h>

namespace oxherd::daemon {
namespace {

constexpr std::size_t password_bytes_max = 4096;

std::string last_error_words() { return std::generic_category().message(errno); }

/// Closes what was opened, whichever way the reading ends.
struct OpenFile {
  explicit OpenFile(int opened) : descriptor{opened} {}
  OpenFile(const OpenFile&) = delete;
  OpenFile& operator=(const OpenFile&) = delete;
  ~OpenFile() {
    if (descriptor >= 0) ::close(descriptor);
  }
  int descriptor;
};

} // namespace

tl::expected<std::string, std::string> read_password(const std::string& file) {
  return read_secret("mqtt.password_file", file);
}

tl::expected<std::string, std::string> read_secret(const std::string& key, const std::string& file) {
  const auto refuse = [&](const std::string& why) { return tl::unexpected(fmt::format("{}: {}: {}", key, file, why)); };
  // Without O_NONBLOCK a pipe put in the place of the file would hold the reconnects for ever.
  const OpenFile opened{::open(file.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK)};
  if (opened.descriptor < 0) return refuse(last_error_words());
  struct stat info {};
  if (::fstat(opened.descriptor, &info) != 0) return refuse(last_error_words());
  if (!S_ISREG(info.st_mode)) return refuse("not a plain file");
  const auto mode = info.st_mode & 07777U;
  if ((mode & 077U) != 0)
    return refuse(fmt::format("others than its owner may use it (mode {:04o}); run: chmod 600 {}", mode, file));

  std::string text;
  std::array<char, 1024> chunk{};
  for (;;) {
    const auto got = ::read(opened.descriptor, chunk.data(), chunk.size());
    if (got < 0 && errno == EINTR) continue;
    if (got < 0) return refuse(last_error_words());
    if (got == 0) break;
    text.append(chunk.data(), static_cast<std::size_t>(got));
    if (text.size() > password_bytes_max) return refuse("longer than 4096 bytes, so it is no password");
  }
  if (text.ends_with('\n')) text.pop_back();
  if (text.ends_with('\r')) text.pop_back();
  if (text.empty()) return refuse("empty");
  return text;
}

} // namespace oxherd::daemon
