#include "demo/order_pipe.hpp"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <stdexcept>
#include <system_error>

namespace oxherd::demo {
namespace {

constexpr std::size_t line_max = 1000;

} // namespace

OrderPipe::OrderPipe(std::filesystem::path path) : path_{std::move(path)} {
  const auto there = std::filesystem::symlink_status(path_).type();
  if (there == std::filesystem::file_type::fifo)
    std::filesystem::remove(path_);
  else if (there != std::filesystem::file_type::not_found)
    throw std::runtime_error(path_.string() + " exists and is no named pipe: choose another path");
  if (::mkfifo(path_.c_str(), 0600) == 0)
    pipe_ = Descriptor{::open(path_.c_str(), O_RDWR | O_NONBLOCK | O_CLOEXEC)}; // writing too: so it never ends
  if (!pipe_.valid())
    throw std::runtime_error("cannot make the pipe " + path_.string() + ": " +
                             std::error_code{errno, std::generic_category()}.message());
}

OrderPipe::~OrderPipe() {
  std::error_code ignored; // it may be gone already, or something else be there
  if (std::filesystem::symlink_status(path_, ignored).type() == std::filesystem::file_type::fifo)
    std::filesystem::remove(path_, ignored);
}

std::vector<std::string> OrderPipe::lines() {
  std::array<char, 4096> buffer{};
  for (;;) {
    const auto n = ::read(pipe_.get(), buffer.data(), buffer.size());
    if (n < 0 && errno == EINTR) continue;
    if (n <= 0) break;
    waiting_.append(buffer.data(), static_cast<std::size_t>(n));
  }
  std::vector<std::string> found;
  std::size_t from = 0;
  for (auto end = waiting_.find('\n'); end != std::string::npos; end = waiting_.find('\n', from)) {
    if (end > from && end - from <= line_max) found.push_back(waiting_.substr(from, end - from));
    from = end + 1;
  }
  waiting_.erase(0, from);
  if (waiting_.size() > line_max) waiting_.clear();
  return found;
}

} // namespace oxherd::demo
