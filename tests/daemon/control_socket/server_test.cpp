// The Unix socket with a real client on it.
#include <filesystem>
#include <thread>

#include <fmt/core.h>
#include <gtest/gtest.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

#include "daemon/control_socket/server.hpp"

namespace oxherd::daemon::server_test {

int connected_to(const std::filesystem::path& path) {
  const int fd = ::socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
  sockaddr_un address{};
  address.sun_family = AF_UNIX;
  path.string().copy(address.sun_path, sizeof address.sun_path - 1);
  EXPECT_EQ(::connect(fd, reinterpret_cast<const sockaddr*>(&address), sizeof address), 0);
  const timeval patience{10, 0};
  EXPECT_EQ(::setsockopt(fd, SOL_SOCKET, SO_RCVTIMEO, &patience, sizeof patience), 0);
  return fd;
}

/// A loop in a thread with a server that answers with the request itself, in a directory of its own.
class Fixture : public ::testing::Test {
protected:
  Fixture() {
    char pattern[] = "/tmp/oxherd-socket-XXXXXX";
    dir_ = ::mkdtemp(pattern);
    path_ = dir_ / "control.sock";
    server_ = std::make_unique<ControlServer>(
        loop_, path_, [](const std::string& request, const Peer& peer, const Reply& reply) {
          reply(fmt::format("{} said {}", peer.pid == ::getpid() ? "you" : "somebody", request));
        });
    thread_ = std::thread{[this] { loop_.run(); }};
  }
  ~Fixture() override {
    loop_.stop();
    thread_.join();
    server_.reset();
    EXPECT_FALSE(std::filesystem::exists(path_)) << "the socket is removed with the server";
    std::filesystem::remove_all(dir_);
  }

  [[nodiscard]] int connect() const { return connected_to(path_); }
  static std::string read_all(int fd) {
    std::string text;
    char chunk[1024];
    for (ssize_t n = 0; (n = ::read(fd, chunk, sizeof chunk)) > 0;) text.append(chunk, static_cast<std::size_t>(n));
    ::close(fd);
    return text;
  }
  static void send(int fd, const std::string& text) {
    std::size_t sent = 0;
    while (sent < text.size()) {
      const ssize_t n = ::send(fd, text.data() + sent, text.size() - sent, MSG_NOSIGNAL);
      if (n <= 0) return; // the server may close on us: what it said is what counts
      sent += static_cast<std::size_t>(n);
    }
  }

  boost::asio::io_context loop_{1};
  std::filesystem::path dir_, path_;
  std::unique_ptr<ControlServer> server_;
  std::thread thread_;
};

using ControlSocket = Fixture;

TEST_F(ControlSocket, AnswersOneLineWithOneLine) {
  const int fd = connect();
  send(fd, "hello\n");
  EXPECT_EQ(read_all(fd), "you said hello\n");
}

TEST_F(ControlSocket, WaitsForTheEndOfALineThatComesInPieces) {
  const int fd = connect();
  send(fd, "hel");
  send(fd, "lo\n");
  EXPECT_EQ(read_all(fd), "you said hello\n");
}

TEST_F(ControlSocket, RefusesARequestWithoutEnd) {
  const int fd = connect();
  send(fd, std::string(70 * 1024, 'x'));
  const auto answer = read_all(fd);
  // The rest of what was sent may reset the connection before the answer is read; it is never taken as a request.
  EXPECT_EQ(answer.find("you said"), std::string::npos);
}

TEST_F(ControlSocket, GoesOnAfterAClientThatLeavesAtOnce) {
  ::close(connect());
  const int fd = connect();
  send(fd, "still there\n");
  EXPECT_EQ(read_all(fd), "you said still there\n");
}

TEST_F(ControlSocket, IsOpenToItsOwnerAndGroupOnly) {
  struct stat info {};
  ASSERT_EQ(::stat(path_.c_str(), &info), 0);
  EXPECT_EQ(info.st_mode & 0777U, 0660U);
}

// What answers slowly does so on a thread of its own. The session must end on the loop all the same, which the thread
// sanitizer watches here.
TEST(ControlSocketAnswers, MayComeFromAnotherThreadAndEndThere) {
  char pattern[] = "/tmp/oxherd-socket-XXXXXX";
  const std::filesystem::path dir = ::mkdtemp(pattern);
  boost::asio::io_context loop{1};
  std::vector<std::thread> aside;
  {
    const ControlServer server{loop, dir / "control.sock", [&](const std::string& line, const Peer&, Reply reply) {
                                 aside.emplace_back([line, reply = std::move(reply)] { reply("later " + line); });
                               }};
    std::thread running{[&] { loop.run(); }};
    for (int i = 0; i < 50; ++i) {
      const int fd = connected_to(dir / "control.sock");
      ASSERT_EQ(::send(fd, "x\n", 2, MSG_NOSIGNAL), 2);
      char answer[16] = {};
      EXPECT_EQ(::recv(fd, answer, 8, MSG_WAITALL), 8);
      EXPECT_STREQ(answer, "later x\n");
      ::close(fd);
    }
    loop.stop();
    running.join();
  }
  for (auto& thread : aside) thread.join();
  std::filesystem::remove_all(dir);
}

TEST(ControlSocketPath, IsNamedWhenTheSocketCannotBeMade) {
  boost::asio::io_context loop{1};
  try {
    const ControlServer server{loop, "/no/such/directory/control.sock", {}};
    FAIL() << "made a socket in a directory that does not exist";
  } catch (const std::runtime_error& e) {
    EXPECT_NE(std::string{e.what()}.find("/no/such/directory/control.sock"), std::string::npos);
  }
}

TEST(WhoMayAsk, IsRootTheOwnerAndTheGroupOfTheSocket) {
  EXPECT_TRUE(may_ask({1, 0, {0}}, {990, 991}));
  EXPECT_TRUE(may_ask({1, 990, {990}}, {990, 991}));
  EXPECT_TRUE(may_ask({1, 1000, {1000, 27, 991}}, {990, 991}));
  EXPECT_FALSE(may_ask({1, 1000, {1000, 27, 990}}, {990, 991})) << "the owner's number is no group";
  EXPECT_FALSE(may_ask({1, 1000, {}}, {990, 991}));
}

} // namespace oxherd::daemon::server_test
