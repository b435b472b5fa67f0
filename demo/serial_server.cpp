#include "demo/serial_server.hpp"

#include <fcntl.h>
#include <poll.h>
#include <stdlib.h>
#include <termios.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <stdexcept>
#include <system_error>

namespace oxherd::demo {
namespace {

[[noreturn]] void terminal_failed(const std::string& what) {
  throw std::runtime_error(what + ": " + std::error_code{errno, std::generic_category()}.message());
}

/// No echo, no line editing, no translation: bytes as they are.
void make_raw(int fd) {
  termios settings{};
  if (tcgetattr(fd, &settings) != 0) terminal_failed("cannot read the settings of the pseudo terminal");
  cfmakeraw(&settings);
  if (tcsetattr(fd, TCSANOW, &settings) != 0) terminal_failed("cannot set the pseudo terminal to raw");
}

void write_all(int fd, const Bytes& bytes) {
  std::size_t done = 0;
  while (done < bytes.size()) {
    const auto n = ::write(fd, bytes.data() + done, bytes.size() - done);
    if (n > 0)
      done += static_cast<std::size_t>(n);
    else if (n < 0 && errno == EINTR)
      continue;
    else
      return; // nobody empties the line: a reply of a few bytes is lost, as on a real one
  }
}

} // namespace

void FrameFinder::add(std::span<const std::uint8_t> bytes, Monotonic now) {
  if (now - last_ > silence) waiting_.clear();
  last_ = now;
  waiting_.insert(waiting_.end(), bytes.begin(), bytes.end());
}

std::optional<Bytes> FrameFinder::next() {
  const auto length = request_length(waiting_);
  if (!length || waiting_.size() < *length) return std::nullopt;
  Bytes frame{waiting_.begin(), waiting_.begin() + static_cast<std::ptrdiff_t>(*length)};
  const std::uint16_t sent = static_cast<std::uint16_t>(frame[*length - 2] | (frame[*length - 1] << 8));
  frame.resize(*length - 2);
  if (crc_of(frame) != sent) {
    waiting_.clear(); // out of step; the master's silence before its next request brings us back
    return std::nullopt;
  }
  waiting_.erase(waiting_.begin(), waiting_.begin() + static_cast<std::ptrdiff_t>(*length));
  return frame;
}

SerialServer::SerialServer(Devices& devices, const std::filesystem::path& link) : devices_{&devices}, link_{link} {
  master_ = Descriptor{::posix_openpt(O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC)};
  if (!master_.valid() || ::grantpt(master_.get()) != 0 || ::unlockpt(master_.get()) != 0)
    terminal_failed("cannot open a pseudo terminal");
  std::array<char, 128> name{};
  if (::ptsname_r(master_.get(), name.data(), name.size()) != 0) terminal_failed("cannot name the pseudo terminal");
  slave_name_ = name.data();
  slave_ = Descriptor{::open(slave_name_.c_str(), O_RDWR | O_NOCTTY | O_CLOEXEC)};
  if (!slave_.valid()) terminal_failed("cannot open " + slave_name_);
  make_raw(slave_.get());

  if (link_.has_parent_path()) std::filesystem::create_directories(link_.parent_path());
  const auto there = std::filesystem::symlink_status(link_).type();
  if (there == std::filesystem::file_type::symlink)
    std::filesystem::remove(link_);
  else if (there != std::filesystem::file_type::not_found)
    throw std::runtime_error(link_.string() + " exists and is no symbolic link: choose another path");
  std::filesystem::create_symlink(slave_name_, link_);
}

SerialServer::~SerialServer() {
  std::error_code ignored;
  if (std::filesystem::read_symlink(link_, ignored) == slave_name_) std::filesystem::remove(link_, ignored);
}

void SerialServer::serve(OutputModule::Monotonic now) {
  std::array<std::uint8_t, 512> buffer{};
  const auto n = ::read(master_.get(), buffer.data(), buffer.size());
  if (n <= 0) return;
  finder_.add(std::span{buffer}.first(static_cast<std::size_t>(n)), now);
  while (const auto frame = finder_.next()) {
    const auto reply = devices_->answer(Line::stores, (*frame)[0], std::span{*frame}.subspan(1), now);
    const bool broadcast = (*frame)[0] == 0;
    if (!reply || broadcast) continue;
    Bytes out{(*frame)[0]};
    out.insert(out.end(), reply->begin(), reply->end());
    write_all(master_.get(), with_crc(std::move(out)));
  }
}

} // namespace oxherd::demo
