#pragma once

#include <filesystem>
#include <fstream>
#include <mutex>
#include <sstream>
#include <string>
#include <thread>
#include <vector>

#include <gtest/gtest.h>
#include <poll.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

#include "daemon/cli/commands.hpp"

namespace oxherd::daemon::cli_test {

/// What a command line did.
struct Outcome {
  int code = -1;
  std::string out, err;
};

inline Outcome run_words(const std::vector<std::string>& words, bool colour = false) {
  std::ostringstream out, err;
  cli::Console console{out, err, colour};
  const int code = cli::run_command_line(words, console);
  return {code, out.str(), err.str()};
}

/// A directory of its own that is removed in the end.
class TemporaryDirectory {
public:
  TemporaryDirectory() {
    auto pattern = (std::filesystem::temp_directory_path() / "oxherd-cli-XXXXXX").string();
    if (mkdtemp(pattern.data()) == nullptr) throw std::runtime_error{"no temporary directory"};
    path_ = pattern;
  }
  TemporaryDirectory(const TemporaryDirectory&) = delete;
  TemporaryDirectory& operator=(const TemporaryDirectory&) = delete;
  ~TemporaryDirectory() { std::filesystem::remove_all(path_); }
  [[nodiscard]] const std::filesystem::path& path() const { return path_; }
  std::string file(const std::string& name, const std::string& content) const {
    std::ofstream{path_ / name} << content;
    return (path_ / name).string();
  }

private:
  std::filesystem::path path_;
};

/// The other end of the control socket: takes one request a connection and sends the next of the scripted answers,
/// byte for byte. After the last one, and for an empty answer with `silent`, it keeps the connection open unanswered.
class FakeDaemon {
public:
  explicit FakeDaemon(std::vector<std::string> answers, bool silent = false)
      : answers_{std::move(answers)}, silent_{silent} {
    listener_ = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
    sockaddr_un address{};
    address.sun_family = AF_UNIX;
    (directory_.path() / "control.sock").string().copy(address.sun_path, sizeof address.sun_path - 1);
    if (bind(listener_, reinterpret_cast<const sockaddr*>(&address), sizeof address) != 0 ||
        listen(listener_, 8) != 0 || pipe(stop_) != 0)
      throw std::runtime_error{"no socket for the test"};
    thread_ = std::thread{[this] { serve(); }};
  }
  FakeDaemon(const FakeDaemon&) = delete;
  FakeDaemon& operator=(const FakeDaemon&) = delete;
  ~FakeDaemon() {
    close(stop_[1]);
    thread_.join();
    close(stop_[0]);
    close(listener_);
  }
  [[nodiscard]] std::string dir() const { return directory_.path().string(); }
  [[nodiscard]] std::filesystem::path path() const { return directory_.path(); }
  [[nodiscard]] std::vector<std::string> requests() {
    const std::scoped_lock lock{mutex_};
    return requests_;
  }

private:
  /// False when the test is over.
  bool readable(int fd) const {
    pollfd p[2]{{fd, POLLIN, 0}, {stop_[0], POLLIN, 0}};
    return poll(p, 2, 60000) > 0 && p[1].revents == 0;
  }
  void serve() {
    for (std::size_t i = 0; readable(listener_); ++i) {
      const int client = accept(listener_, nullptr, nullptr);
      answer(client, i);
      close(client);
    }
  }
  void answer(int client, std::size_t i) {
    std::string request;
    char c = 0;
    while (readable(client) && read(client, &c, 1) == 1 && c != '\n') request += c;
    {
      const std::scoped_lock lock{mutex_};
      requests_.push_back(request);
    }
    std::string_view rest = i < answers_.size() ? std::string_view{answers_[i]} : std::string_view{};
    while (!rest.empty()) {
      const auto sent = send(client, rest.data(), rest.size(), MSG_NOSIGNAL);
      if (sent <= 0) return;
      rest.remove_prefix(static_cast<std::size_t>(sent));
    }
    if (silent_) static_cast<void>(readable(client)); // until the client hangs up or the test ends
  }

  TemporaryDirectory directory_;
  std::vector<std::string> answers_;
  bool silent_;
  int listener_ = -1;
  int stop_[2]{-1, -1};
  std::mutex mutex_;
  std::vector<std::string> requests_;
  std::thread thread_;
};

} // namespace oxherd::daemon::cli_test
