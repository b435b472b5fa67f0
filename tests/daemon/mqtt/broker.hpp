#pragma once

#include <chrono>
#include <condition_variable>
#include <deque>
#include <filesystem>
#include <functional>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <thread>
#include <vector>

#include <sys/types.h>

/// A real broker and a real reader on loopback for the tests of the sink. Everything that waits has a deadline; nothing
/// sleeps.
namespace oxherd::daemon::mqtt_test {

inline constexpr std::chrono::seconds patience{10};

/// A directory of its own, removed with everything in it.
class TemporaryDirectory {
public:
  TemporaryDirectory();
  ~TemporaryDirectory();
  TemporaryDirectory(const TemporaryDirectory&) = delete;
  TemporaryDirectory& operator=(const TemporaryDirectory&) = delete;
  [[nodiscard]] const std::filesystem::path& path() const { return path_; }
  [[nodiscard]] std::string file(const std::string& name) const { return (path_ / name).string(); }
  /// Writes a file of the given permissions and returns its path.
  std::string write(const std::string& name, const std::string& text, unsigned mode = 0600) const;

private:
  std::filesystem::path path_;
};

/// A directory of state with an alarm journal in it, as the daemon has it when it starts to publish.
class StateDirectory : public TemporaryDirectory {
public:
  StateDirectory();
};

/// A child process whose output (both streams) is given line by line. It dies with this object, and with the test.
/// A thread takes the output as it comes: a full pipe would stop the child until the test asks for a line, and the test
/// may be waiting for something that only the child can bring about.
class Child {
public:
  explicit Child(const std::vector<std::string>& command);
  ~Child();
  Child(const Child&) = delete;
  Child& operator=(const Child&) = delete;
  /// The next line that fits, within the deadline; the lines before it are passed over and kept in `seen`.
  std::optional<std::string> line(const std::function<bool(const std::string&)>& fits);
  std::optional<std::string> line_with(const std::string& part);
  void signal(int number) const;
  int wait(); ///< for its end; the status as waitpid gives it
  std::vector<std::string> seen;

private:
  void take_output();
  std::optional<std::string> next_line(std::chrono::steady_clock::time_point deadline);
  pid_t pid_ = -1;
  int output_ = -1;
  std::mutex lock_; ///< for the three below
  std::condition_variable arrived_;
  std::string unread_;
  bool ended_ = false; ///< no more output will come
  std::thread taking_;
};

/// Runs a command to its end and fails the test when that is not success.
void run(const std::vector<std::string>& command);

/// A port of loopback that was free a moment ago.
int free_port();

/// mosquitto with a generated configuration.
class Broker {
public:
  /// `extra`: further lines of the configuration. Without a listener in them it gets one on `port()`, open to everyone.
  explicit Broker(const std::string& extra = {}, int port = free_port());
  [[nodiscard]] int port() const { return port_; }
  [[nodiscard]] std::string url() const { return "mqtt://127.0.0.1:" + std::to_string(port_); }
  void start();
  void stop(); ///< SIGTERM, and waits for the end; what it persists is on disk then
  void freeze() { process_->signal(19); }
  void thaw() { process_->signal(18); }
  [[nodiscard]] Child& process() { return *process_; }

private:
  TemporaryDirectory directory_;
  int port_;
  std::string configuration_;
  std::unique_ptr<Child> process_;
};

/// Takes one connection and never says a word.
class SilentServer {
public:
  SilentServer();
  ~SilentServer();
  SilentServer(const SilentServer&) = delete;
  SilentServer& operator=(const SilentServer&) = delete;
  [[nodiscard]] std::string url() const { return "mqtt://127.0.0.1:" + std::to_string(port_); }
  [[nodiscard]] bool was_greeted() const; ///< whether a client has connected and sent something, within the deadline

private:
  int listener_ = -1, port_ = 0;
  mutable int client_ = -1;
};

/// mosquitto_sub, printing "retained topic payload" for every message.
class Reader {
public:
  /// Has subscribed when it is made.
  explicit Reader(const Broker& broker, const std::string& filter = "oxherd/larkfield/#",
                  const std::vector<std::string>& more = {});
  /// The payload of the first message on `topic` (below oxherd/larkfield/) that `fits` and was not given before; other
  /// messages are kept, since the order between topics is the broker's. Empty and a test failure when none came.
  std::string payload(const std::string& topic, const std::function<bool(const std::string&)>& fits);
  std::string payload(const std::string& topic);
  /// The first message not given before, as "topic payload" with the topic below oxherd/larkfield/.
  std::string message();
  void wait_for_status(const std::string& status);

private:
  std::string first(const std::function<bool(const std::string&)>& fits);
  Child process_;
  std::deque<std::string> kept_; ///< read and not given
};

} // namespace oxherd::daemon::mqtt_test
