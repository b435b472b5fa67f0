#include "tests/daemon/mqtt/broker.hpp"

#include <algorithm>
#include <cerrno>
#include <csignal>
#include <cstdlib>
#include <fstream>
#include <stdexcept>
#include <utility>

#include <arpa/inet.h>
#include <fcntl.h>
#include <netinet/in.h>
#include <poll.h>
#include <sys/prctl.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <gtest/gtest.h>

#include "daemon/store/journal.hpp"

namespace oxherd::daemon::mqtt_test {

TemporaryDirectory::TemporaryDirectory() {
  std::string name = std::filesystem::temp_directory_path() / "oxherd-mqtt-XXXXXX";
  if (::mkdtemp(name.data()) == nullptr) throw std::runtime_error{"no temporary directory"};
  path_ = name;
}
TemporaryDirectory::~TemporaryDirectory() {
  std::error_code ignored; // the system clears what is left
  std::filesystem::remove_all(path_, ignored);
}
std::string TemporaryDirectory::write(const std::string& name, const std::string& text, unsigned mode) const {
  const auto path = file(name);
  std::ofstream{path} << text;
  if (::chmod(path.c_str(), mode) != 0) throw std::runtime_error{"chmod " + path};
  return path;
}

StateDirectory::StateDirectory() {
  if (const auto journal = store::Journal::open(path()); !journal) throw std::runtime_error{journal.error().what};
}

Child::Child(const std::vector<std::string>& command) {
  int ends[2] = {-1, -1};
  if (::pipe2(ends, O_CLOEXEC) != 0) throw std::runtime_error{"no pipe"};
  std::vector<char*> arguments;
  for (const auto& word : command) arguments.push_back(const_cast<char*>(word.c_str())); // execvp wants char*
  arguments.push_back(nullptr);
  const pid_t parent = ::getpid();
  pid_ = ::fork();
  if (pid_ == 0) { // only calls that are safe between fork and exec
    ::prctl(PR_SET_PDEATHSIG, SIGKILL);
    if (::getppid() != parent) ::_exit(126);
    ::dup2(ends[1], 1);
    ::dup2(ends[1], 2);
    ::execvp(arguments[0], arguments.data());
    ::_exit(127);
  }
  ::close(ends[1]);
  output_ = ends[0];
  if (pid_ < 0) throw std::runtime_error{"no fork"};
  taking_ = std::thread{[this] { take_output(); }};
}

Child::~Child() {
  if (pid_ > 0) {
    ::kill(pid_, SIGKILL);
    wait();
  }
  taking_.join();
  ::close(output_);
}

void Child::signal(int number) const {
  if (pid_ > 0) ::kill(pid_, number);
}

int Child::wait() {
  int status = 0;
  while (pid_ > 0 && ::waitpid(pid_, &status, 0) < 0 && errno == EINTR) continue;
  pid_ = -1;
  return status;
}

void Child::take_output() {
  char chunk[4096];
  for (;;) {
    const auto got = ::read(output_, chunk, sizeof chunk);
    if (got < 0 && errno == EINTR) continue;
    const std::lock_guard hold{lock_};
    if (got > 0)
      unread_.append(chunk, static_cast<std::size_t>(got));
    else
      ended_ = true;
    arrived_.notify_one();
    if (ended_) return;
  }
}

std::optional<std::string> Child::next_line(std::chrono::steady_clock::time_point deadline) {
  std::unique_lock hold{lock_};
  const auto has_line = [this] { return unread_.find('\n') != std::string::npos; };
  if (!arrived_.wait_until(hold, deadline, [&] { return has_line() || ended_; }) || !has_line()) return std::nullopt;
  const auto end = unread_.find('\n');
  auto found = unread_.substr(0, end);
  unread_.erase(0, end + 1);
  return found;
}

std::optional<std::string> Child::line(const std::function<bool(const std::string&)>& fits) {
  const auto deadline = std::chrono::steady_clock::now() + patience;
  while (auto found = next_line(deadline)) {
    seen.push_back(*found);
    if (fits(*found)) return found;
  }
  return std::nullopt;
}

std::optional<std::string> Child::line_with(const std::string& part) {
  return line([&](const std::string& text) { return text.find(part) != std::string::npos; });
}

void run(const std::vector<std::string>& command) {
  Child child{command};
  std::string output;
  (void)child.line([&](const std::string& text) {
    output += text + "\n";
    return false;
  });
  ASSERT_EQ(child.wait(), 0) << command[0] << " " << command[1] << "\n" << output;
}

namespace {
struct Listener {
  int descriptor, port;
};
Listener listen_on_any_port() {
  const int descriptor = ::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
  sockaddr_in address{};
  address.sin_family = AF_INET;
  address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
  socklen_t size = sizeof address;
  auto* any = reinterpret_cast<sockaddr*>(&address); // the socket interface's own way
  if (::bind(descriptor, any, size) != 0 || ::getsockname(descriptor, any, &size) != 0 || ::listen(descriptor, 1) != 0)
    throw std::runtime_error{"no free port"};
  return {descriptor, ntohs(address.sin_port)};
}
bool readable(int descriptor) {
  pollfd waited{descriptor, POLLIN, 0};
  return ::poll(&waited, 1, static_cast<int>(std::chrono::milliseconds{patience}.count())) == 1;
}
} // namespace

int free_port() {
  const auto listener = listen_on_any_port();
  ::close(listener.descriptor);
  return listener.port;
}

SilentServer::SilentServer() {
  const auto listener = listen_on_any_port();
  listener_ = listener.descriptor;
  port_ = listener.port;
}
SilentServer::~SilentServer() {
  if (client_ >= 0) ::close(client_);
  ::close(listener_);
}
bool SilentServer::was_greeted() const {
  if (!readable(listener_)) return false;
  client_ = ::accept4(listener_, nullptr, nullptr, SOCK_CLOEXEC);
  return readable(client_);
}

Broker::Broker(const std::string& extra, int port) : port_{port} {
  std::string text = "log_dest stderr\nlog_type all\n";
  if (extra.find("listener") == std::string::npos)
    text += "listener " + std::to_string(port_) + " 127.0.0.1\nallow_anonymous true\n";
  // It gives up its rights when root starts it, and could not read the test's files any more.
  text += "user root\npersistence_location " + directory_.file("") + "\n" + extra;
  configuration_ = directory_.write("mosquitto.conf", text);
}

void Broker::start() {
  process_ = std::make_unique<Child>(std::vector<std::string>{"mosquitto", "-c", configuration_});
  if (!process_->line_with(" running")) {
    std::string output;
    for (const auto& text : process_->seen) output += text + "\n";
    throw std::runtime_error{"mosquitto did not start:\n" + output};
  }
}

void Broker::stop() {
  process_->signal(SIGTERM);
  process_->wait();
  process_.reset();
}

namespace {
std::vector<std::string> reader_command(const Broker& broker, const std::string& filter,
                                        const std::vector<std::string>& more) {
  std::vector<std::string> command{"stdbuf", "-oL", "mosquitto_sub", "-h", "127.0.0.1", "-p"}; // each line at once
  command.insert(command.end(), {std::to_string(broker.port()), "-q", "1"});
  command.insert(command.end(), {"-d", "-t", filter, "-F", "%r %t %p"}); // -d: says when it has subscribed
  command.insert(command.end(), more.begin(), more.end());
  return command;
}
const std::string below = "oxherd/larkfield/";
/// "topic payload" of a line of the reader; empty when it is something else.
std::string message_in(const std::string& line) {
  return line.size() >= 2 && line.substr(2).starts_with(below) ? line.substr(2 + below.size()) : std::string{};
}

std::vector<std::string> publisher_command(const Broker& broker, const std::string& topic,
                                           const std::vector<std::string>& more) {
  std::vector<std::string> command{"mosquitto_pub", "-h", "127.0.0.1", "-p", std::to_string(broker.port()), "-q", "1"};
  command.insert(command.end(), {"-t", below + topic});
  command.insert(command.end(), more.begin(), more.end());
  return command;
}
} // namespace

Reader::Reader(const Broker& broker, const std::string& filter, const std::vector<std::string>& more)
    : process_{reader_command(broker, filter, more)} {
  const auto has_subscribed = [this](const std::string& line) {
    if (auto message = message_in(line); !message.empty()) kept_.push_back(std::move(message)); // retained ones
    return line.starts_with("Subscribed ");
  };
  if (!process_.line(has_subscribed)) ADD_FAILURE() << "no subscription: " << testing::PrintToString(process_.seen);
}

std::string Reader::first(const std::function<bool(const std::string&)>& fits) {
  if (const auto kept = std::find_if(kept_.begin(), kept_.end(), fits); kept != kept_.end()) {
    auto found = *kept;
    kept_.erase(kept);
    return found;
  }
  std::string found;
  const auto is_it = [&](const std::string& line) {
    found = message_in(line);
    if (found.empty()) return false;
    if (fits(found)) return true;
    kept_.push_back(std::exchange(found, {}));
    return false;
  };
  if (!process_.line(is_it)) ADD_FAILURE() << "no message that fits; read: " << testing::PrintToString(process_.seen);
  return found;
}
std::string Reader::payload(const std::string& topic, const std::function<bool(const std::string&)>& fits) {
  const auto start = topic + " ";
  const auto found =
      first([&](const std::string& text) { return text.starts_with(start) && fits(text.substr(start.size())); });
  return found.empty() ? found : found.substr(start.size());
}
std::string Reader::payload(const std::string& topic) {
  return payload(topic, [](const std::string&) { return true; });
}
std::string Reader::message() {
  return first([](const std::string&) { return true; });
}
void Reader::wait_for_status(const std::string& status) {
  (void)payload("status", [&](const std::string& text) { return text == status; });
}

TEST(BrokerFixture, PassesOnWhatIsPublished) {
  Broker broker;
  broker.start();
  run(publisher_command(broker, "status", {"-m", "online", "-r"}));
  Reader reader{broker};
  EXPECT_EQ(reader.payload("status"), "online");
}

TEST(BrokerFixture, PassesOnMessagesWhileNobodyReadsItsLog) {
  Broker broker;
  broker.start();
  run(publisher_command(broker, "status", {"-m", "online", "-r"}));
  Reader reader{broker};
  reader.wait_for_status("online");
  // Each makes more than 300 bytes of log, all together over twice what a pipe holds; half of what the broker queues.
  constexpr int messages = 500;
  Child publisher{publisher_command(broker, "cryo-annexe/cell-a", {"-m", "0", "--repeat", std::to_string(messages)})};
  for (int i = 0; i < messages; ++i) ASSERT_EQ(reader.message(), "cryo-annexe/cell-a 0") << i;
}

} // namespace oxherd::daemon::mqtt_test
