#pragma once

#include <condition_variable>
#include <functional>
#include <mutex>
#include <thread>
#include <vector>

#include "drivers/waiting.hpp"
#include "tests/drivers/bytes.hpp"

namespace oxherd::drivers_test {

/// What a peer does about one request: writes to `fd`, or not. False closes the connection.
using Step = std::function<bool(int fd, const Bytes& request)>;

[[nodiscard]] Step answer(Bytes bytes); ///< sends these bytes
[[nodiscard]] Step stay_silent();
[[nodiscard]] Step hang_up_after(Bytes bytes);
void send_all(int fd, const Bytes& bytes);

/// Keeps what a peer has received, and hands out its steps; the last step is repeated.
class Script {
public:
  explicit Script(std::vector<Step> steps) : steps_{std::move(steps)} {}
  [[nodiscard]] bool act(int fd, const Bytes& request);
  /// Waits until so many requests have come, and returns all so far. Gives up after 5 s with fewer.
  [[nodiscard]] std::vector<Bytes> wait_for_requests(std::size_t count);

private:
  std::vector<Step> steps_;
  std::mutex mutex_;
  std::condition_variable changed_;
  std::vector<Bytes> received_;
};

/// A TCP server on a loopback port of the system's choosing. Serves one connection at a time.
class ScriptedTcpServer {
public:
  explicit ScriptedTcpServer(std::vector<Step> steps);
  ~ScriptedTcpServer();
  [[nodiscard]] int port() const { return port_; }
  [[nodiscard]] Script& script() { return script_; }
  [[nodiscard]] int connections() const { return connections_; }

private:
  void serve();
  void serve_connection(int fd);
  Script script_;
  drivers::StopEvent stop_;
  drivers::FileDescriptor listener_;
  int port_ = 0;
  std::atomic<int> connections_{0};
  std::thread thread_;
};

/// The devices' end of a serial line: a pseudo terminal whose other end has a name to open.
class ScriptedLine {
public:
  explicit ScriptedLine(std::vector<Step> steps);
  ~ScriptedLine();
  [[nodiscard]] const std::string& device() const { return device_; }
  [[nodiscard]] Script& script() { return script_; }
  /// Sends bytes that nobody asked for.
  void disturb(const Bytes& bytes) const { send_all(line_.get(), bytes); }
  /// Pulls the adapter out.
  void unplug();

private:
  void serve();
  Script script_;
  drivers::StopEvent stop_;
  drivers::FileDescriptor line_;
  std::string device_;
  std::thread thread_;
};

} // namespace oxherd::drivers_test
