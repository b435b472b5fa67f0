#include <utility> // before Asio: std::exchange

#include "daemon/http/http_server.hpp"

#include <sys/resource.h>

#include <mutex>
#include <thread>

#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/read.hpp>
#include <boost/asio/read_until.hpp>
#include <boost/asio/write.hpp>
#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include "daemon/control_socket/requests.hpp"
#include "daemon/identity/users.hpp"
#include "tests/daemon/store/store_fixture.hpp"

// The server itself, over the loopback interface.
namespace oxherd::http_server_test {

using namespace daemon::http;
using namespace std::chrono_literals;
using boost::asio::ip::tcp;
using daemon::store_test::ScratchDir;
using nlohmann::json;
using Reply = std::function<void(std::string)>;

/// A server whose decision loop answers at once and writes down what it was asked.
class Served {
public:
  explicit Served(config::Http settings = {}) {
    settings.port = 0; // any
    server_ = std::make_unique<HttpServer>(settings, "larkfield", dir_.path(),
                                           DecisionLoop{[this](const std::string& line, const Reply& reply) {
                                                          const std::lock_guard lock{mutex_};
                                                          asked_.push_back(line);
                                                          if (answers) reply(daemon::accepted(R"({"a":1})"));
                                                          if (!answers) held_.push_back(reply);
                                                        },
                                                        [this](daemon::identity::UserNote note) {
                                                          const std::lock_guard lock{mutex_};
                                                          notes_.push_back(std::move(note));
                                                        },
                                                        false,
                                                        [this] {
                                                          const std::lock_guard lock{mutex_};
                                                          return unwell_;
                                                        }});
    while (!server_->health().listening) std::this_thread::sleep_for(1ms);
  }
  HttpServer& operator*() { return *server_; }
  void stop() { server_.reset(); }
  [[nodiscard]] unsigned short port() const {
    const auto address = server_->health().address;
    return static_cast<unsigned short>(std::stoi(address.substr(address.rfind(':') + 1)));
  }
  [[nodiscard]] std::vector<std::string> asked() {
    const std::lock_guard lock{mutex_};
    return asked_;
  }
  [[nodiscard]] std::vector<daemon::identity::UserNote> notes() {
    const std::lock_guard lock{mutex_};
    return notes_;
  }
  void become(const std::string& unwell) {
    const std::lock_guard lock{mutex_};
    unwell_ = unwell;
  }
  void answer_late() {
    for (const auto& reply : held_) reply(daemon::accepted("{}"));
  }
  const std::filesystem::path& dir() const { return dir_.path(); }
  std::atomic<bool> answers{true};

private:
  ScratchDir dir_;
  std::mutex mutex_;
  std::vector<std::string> asked_;
  std::vector<Reply> held_;
  std::vector<daemon::identity::UserNote> notes_;
  std::string unwell_;
  std::unique_ptr<HttpServer> server_;
};

daemon::identity::Users the_users(daemon::identity::User one) {
  daemon::identity::Users users;
  users.add({daemon::WallTime{1700000000000ms}, one.name, "user-made", "R. Okafor", "made for a test"});
  users.all.push_back(std::move(one));
  return users;
}

struct Got {
  int status = 0;
  std::string head, body;
  [[nodiscard]] std::string header(const std::string& name) const {
    const auto at = head.find("\r\n" + name + ": ");
    if (at == std::string::npos) return {};
    const auto begin = at + name.size() + 4;
    return head.substr(begin, head.find("\r\n", begin) - begin);
  }
};

/// One connection of a client.
class Client {
public:
  /// @param from  address of this side
  explicit Client(unsigned short port, const char* from = "127.0.0.1") {
    socket_.open(tcp::v4());
    socket_.bind({boost::asio::ip::make_address(from), 0});
    socket_.connect({boost::asio::ip::make_address("127.0.0.1"), port});
  }
  void send(const std::string& text) { boost::asio::write(socket_, boost::asio::buffer(text)); }
  /// Until and with `mark`.
  std::string read_until(const std::string& mark) {
    const auto n = boost::asio::read_until(socket_, boost::asio::dynamic_buffer(buffer_), mark);
    auto text = buffer_.substr(0, n);
    buffer_.erase(0, n);
    return text;
  }
  Got receive() {
    Got got;
    got.head = read_until("\r\n\r\n");
    got.status = std::stoi(got.head.substr(9, 3));
    const auto length = got.header("Content-Length");
    const auto wanted = length.empty() ? std::size_t{0} : std::stoul(length);
    if (buffer_.size() < wanted)
      boost::asio::read(socket_, boost::asio::dynamic_buffer(buffer_),
                        boost::asio::transfer_exactly(wanted - buffer_.size()));
    got.body = buffer_.substr(0, wanted);
    buffer_.erase(0, wanted);
    return got;
  }
  /// Whether the other side has ended the connection.
  bool is_closed() {
    char c = 0;
    boost::system::error_code ec;
    boost::asio::read(socket_, boost::asio::buffer(&c, 1), ec);
    return ec == boost::asio::error::eof || ec == boost::asio::error::connection_reset;
  }

private:
  boost::asio::io_context io_;
  tcp::socket socket_{io_};
  std::string buffer_;
};

std::string request_text(const std::string& line, const std::string& headers = {}, const std::string& body = {}) {
  auto text = line + " HTTP/1.1\r\nHost: localhost\r\n" + headers;
  if (!body.empty())
    text += "Content-Type: application/json\r\nContent-Length: " + std::to_string(body.size()) + "\r\n";
  return text + "\r\n" + body;
}

Got asked(unsigned short port, const std::string& line, const std::string& headers = {}, const std::string& body = {}) {
  Client client{port};
  client.send(request_text(line, headers, body));
  return client.receive();
}

daemon::RoomStatus room(const std::string& name) {
  daemon::RoomStatus status;
  status.room = name;
  return status;
}

TEST(TheServer, AnswersOneRequestAfterAnotherOnOneConnection) {
  Served served;
  Client client{served.port()};
  client.send(request_text("GET /healthz") + request_text("GET /api/site")); // together
  EXPECT_EQ(client.receive().body, "running\n");
  EXPECT_EQ(client.receive().body, R"({"a":1})");
  client.send(request_text("HEAD /api/alarms"));
  EXPECT_EQ(client.read_until("\r\n\r\n").substr(0, 15), "HTTP/1.1 200 OK");
  client.send(request_text("GET /nothing"));
  EXPECT_EQ(client.receive().status, 404);
  EXPECT_EQ(served.asked().size(), 2U);
}

TEST(TheServer, ServesThePageCompressedAndSaysWhenItHasNotChanged) {
  Served served;
  const auto page = asked(served.port(), "GET /", "Accept-Encoding: gzip\r\n");
  EXPECT_EQ(page.status, 200);
  EXPECT_EQ(page.header("Content-Encoding"), "gzip");
  EXPECT_EQ(page.body.substr(0, 2), "\x1f\x8b") << "RFC 1952, 2.3.1";
  EXPECT_EQ(asked(served.port(), "GET /", "If-None-Match: " + page.header("ETag") + "\r\n").status, 304);
  EXPECT_EQ(asked(served.port(), "GET /").status, 406);
  EXPECT_EQ(asked(served.port(), "GET /../users.json", "Accept-Encoding: gzip\r\n").status, 400);
  EXPECT_EQ(asked(served.port(), "POST /").status, 405);
}

TEST(TheServer, EndsAConnectionThatDoesNotSpeakHttp) {
  Served served;
  const auto answer = [&](const std::string& text) {
    Client client{served.port()};
    client.send(text);
    const auto got = client.receive();
    EXPECT_TRUE(client.is_closed());
    return got.status;
  };
  EXPECT_EQ(answer("this is no request\r\n\r\n"), 400);
  EXPECT_EQ(answer("GET / HTTP/1.1\r\nX: " + std::string(20'000, 'x') + "\r\n\r\n"), 431);
  EXPECT_EQ(answer("POST /api/calibrate HTTP/1.1\r\nHost: localhost\r\nContent-Length: 70000\r\n\r\n" +
                   std::string(70'000, 'x')),
            413);
  // Neither of these has an end that the parser would wait for in vain.
  const std::string chunked = "POST /api/calibrate HTTP/1.1\r\nHost: localhost\r\nTransfer-Encoding: chunked\r\n\r\n";
  EXPECT_EQ(answer(chunked + "1;" + std::string(20'000, 'x')), 431);
  EXPECT_EQ(answer(chunked + "0\r\nA: " + std::string(20'000, 'x')), 431);
  EXPECT_EQ(answer("GET / HTTP/1.1\r\nHost: localhost\r\nHost: page.example\r\n\r\n"), 400);
  EXPECT_EQ(answer("POST /api/calibrate HTTP/1.1\r\nHost: localhost\r\nTransfer-Encoding: chunked, x\r\n\r\n"), 400);
}

TEST(TheServer, SaysInWordsAndByItsStatusThatItIsNotWell) {
  Served served;
  EXPECT_EQ(asked(served.port(), "GET /healthz").status, 200);
  served.become("the broker is not connected");
  const auto answer = asked(served.port(), "GET /healthz");
  EXPECT_EQ(answer.status, 503);
  EXPECT_EQ(answer.body, "the broker is not connected\n");
}

// A few hundred connections that ask nothing keep nobody out.
TEST(TheServer, HasPlaceForWhoAsksThoughOthersHoldConnections) {
  rlimit files{};
  ASSERT_EQ(getrlimit(RLIMIT_NOFILE, &files), 0);
  files.rlim_cur = files.rlim_max;
  ASSERT_EQ(setrlimit(RLIMIT_NOFILE, &files), 0);
  Served served;
  std::vector<std::unique_ptr<Client>> idle;
  for (int i = 0; i < 600; ++i) {
    idle.push_back(std::make_unique<Client>(served.port()));
    if (i % 2 == 0) idle.back()->send("GET / HTTP/1.1\r\n"); // and no end of it
  }
  EXPECT_EQ(asked(served.port(), "GET /healthz").status, 200);
  EXPECT_TRUE(idle.front()->is_closed()) << "who has waited longest makes room";
  idle.back()->send(request_text("GET /healthz"));
  EXPECT_EQ(idle.back()->receive().status, 200);
}

// A page of another host whose name was made to lead here must not read what anybody on this machine may.
TEST(TheServer, AnswersUnderItsOwnNamesOnly) {
  config::Http settings;
  settings.names = {"annexe.larkfield.example"};
  Served served{settings};
  const auto status = [&](const std::string& host) {
    Client client{served.port()};
    client.send("GET /healthz HTTP/1.1\r\nHost: " + host + "\r\n\r\n");
    return client.receive().status;
  };
  EXPECT_EQ(status("127.0.0.1:8120"), 200);
  EXPECT_EQ(status("[::1]:8120"), 200);
  EXPECT_EQ(status("localhost"), 200);
  EXPECT_EQ(status("annexe.larkfield.example:8120"), 200);
  EXPECT_EQ(status("elsewhere.example"), 403);
  EXPECT_EQ(status("1.2.3.4.elsewhere.example"), 403);
}

TEST(TheServer, SignsPeopleInAndTakesTheirNameForWhatTheyDo) {
  Served served;
  ASSERT_TRUE(daemon::identity::write_users(
      served.dir(),
      the_users({"mira", daemon::identity::Role::operator_, daemon::identity::hash_password("correct horse"), ""})));
  const std::string act = "POST /api/rooms/annexe/alarms/low-oxygen/acknowledge";
  EXPECT_EQ(asked(served.port(), act, "", "{}").status, 401);
  EXPECT_EQ(asked(served.port(), "POST /api/session", "", R"({"name":"mira","password":"wrong horse"})").status, 401);
  EXPECT_EQ(asked(served.port(), "POST /api/session", "", R"({"name":"nobody","password":"wrong horse"})").status, 401);
  const auto signed_in = asked(served.port(), "POST /api/session", "", R"({"name":"mira","password":"correct horse"})");
  ASSERT_EQ(signed_in.status, 200) << signed_in.body;
  const auto set = signed_in.header("Set-Cookie");
  EXPECT_NE(set.find("HttpOnly; SameSite=Strict"), std::string::npos) << set;
  const auto cookie = "Cookie: " + set.substr(0, set.find(';')) + "\r\n";
  const std::string csrf = json::parse(signed_in.body)["csrf"];
  EXPECT_EQ(asked(served.port(), act, cookie, "{}").status, 403) << "a cookie alone is what a forged request has";
  EXPECT_EQ(asked(served.port(), act, cookie + "Oxherd-Csrf: " + csrf + "\r\n", R"({"comment":"seen"})").status, 200);
  const auto asked_of_loop = served.asked();
  ASSERT_EQ(asked_of_loop.size(), 1U);
  EXPECT_EQ(json::parse(asked_of_loop[0])["author"], "mira");
  EXPECT_EQ(json::parse(asked(served.port(), "GET /api/session", cookie).body)["user"]["role"], "operator");
  EXPECT_EQ(asked(served.port(), "DELETE /api/session", cookie + "Oxherd-Csrf: " + csrf + "\r\n").status, 200);
  EXPECT_TRUE(json::parse(asked(served.port(), "GET /api/session", cookie).body)["user"].is_null());
  std::vector<std::string> events;
  for (const auto& note : served.notes()) events.push_back(note.event + " by " + note.author + ": " + note.text);
  EXPECT_EQ(events, (std::vector<std::string>{"user-made by R. Okafor: made for a test",
                                              "sign-in-refused by : a wrong password for mira from 127.0.0.1",
                                              "signed-in by mira: mira (operator) signed in from 127.0.0.1"}))
      << "for the journal; a name that is nobody's may be a password in the wrong field";
}

TEST(TheServer, SlowsDownWhoGuessesPasswords) {
  Served served;
  int refused = 0;
  for (int i = 0; i < 7; ++i) {
    const auto got = asked(served.port(), "POST /api/session", "", R"({"name":"mira","password":"guess"})");
    if (got.status != 429) continue;
    ++refused;
    EXPECT_FALSE(got.header("Retry-After").empty());
  }
  EXPECT_EQ(refused, 2);
}

TEST(TheServer, LetsNobodyHoldUpOtherPeopleByTryingTheirNames) {
  Served served;
  const auto tried = [&](const char* from, const std::string& name) {
    Client client{served.port(), from};
    client.send(request_text("POST /api/session", "", R"({"name":")" + name + R"(","password":"guess"})"));
    return client.receive().status;
  };
  for (int i = 0; i < 5; ++i) EXPECT_EQ(tried("127.0.0.1", "guess " + std::to_string(i)), 401);
  for (int i = 0; i < 7; ++i) EXPECT_EQ(tried("127.0.0.1", "mira"), 429);
  EXPECT_EQ(tried("127.0.0.2", "mira"), 401);
}

TEST(TheServer, LetsAProgramInByItsToken) {
  config::Http settings;
  settings.view_without_sign_in = false;
  Served served{settings};
  const auto token = daemon::identity::random_token();
  ASSERT_TRUE(daemon::identity::write_users(
      served.dir(), the_users({"historian", daemon::identity::Role::viewer, "", daemon::identity::token_hash(token)})));
  EXPECT_EQ(asked(served.port(), "GET /api/site").status, 401);
  EXPECT_EQ(asked(served.port(), "GET /metrics").status, 401);
  EXPECT_EQ(asked(served.port(), "GET /api/stream").status, 401);
  EXPECT_EQ(asked(served.port(), "GET /api/site", "Authorization: Bearer " + token + "\r\n").status, 200);
  EXPECT_EQ(asked(served.port(), "GET /api/site", "Authorization: Bearer guessed\r\n").status, 401);
  EXPECT_EQ(
      asked(served.port(), "POST /api/rooms/a/alarms/b/acknowledge", "Authorization: Bearer " + token + "\r\n", "{}")
          .status,
      403);
}

TEST(TheServer, TellsEveryListenerWhatChanges) {
  Served served;
  (*served).room(room("bay-3"));
  std::vector<std::unique_ptr<Client>> listeners;
  for (int i = 0; i < 200; ++i) {
    listeners.push_back(std::make_unique<Client>(served.port()));
    listeners.back()->send(request_text("GET /api/stream"));
  }
  for (auto& one : listeners) {
    EXPECT_NE(one->read_until("\r\n\r\n").find("Content-Type: text/event-stream"), std::string::npos);
    auto begun = one->read_until("event: room\n");
    begun += one->read_until("\n\n");
    EXPECT_NE(begun.find("event: hello\ndata: {\"site\":\"larkfield\""), std::string::npos) << begun;
    EXPECT_NE(begun.find("\"room\":\"bay-3\""), std::string::npos);
  }
  daemon::AlarmStatus status;
  status.room = "bay-3";
  status.alarm = "high-co2";
  (*served).alarm({}, {}, status);
  for (auto& one : listeners) {
    const auto event = one->read_until("\n\n");
    EXPECT_TRUE(event.starts_with("event: alarm\ndata: {\"room\":\"bay-3\",\"alarm\":\"high-co2\"")) << event;
  }
  daemon::RoomLevel level;
  level.room = "bay-3";
  level.oxygen = 0.2071;
  (*served).level(level);
  EXPECT_EQ(listeners[0]->read_until("\n\n"),
            "event: level\ndata: {\"at\":\"1970-01-01T00:00:00.000Z\",\"room\":\"bay-3\",\"dry_fraction\":0.2071,"
            "\"u_expanded\":null,\"coverage_factor\":2,\"co2_fraction\":null}\n\n");
  (*served).evaluated(7, 1000ms, daemon::WallTime{});
  EXPECT_EQ(listeners[0]->read_until("\n\n"),
            "event: beat\ndata: {\"now\":\"1970-01-01T00:00:00.000Z\",\"evaluations\":7}\n\n");
  // Evaluated every 250 ms, with a beat in each second of the clock though some come late.
  for (const auto& [count, now] : {std::pair{8, 1999ms}, {9, 2030ms}, {10, 2280ms}, {11, 3001ms}})
    (*served).evaluated(static_cast<std::uint64_t>(count), now, daemon::WallTime{});
  EXPECT_NE(listeners[0]->read_until("\n\n").find("\"evaluations\":9}"), std::string::npos);
  EXPECT_NE(listeners[0]->read_until("\n\n").find("\"evaluations\":11}"), std::string::npos);
  EXPECT_EQ(asked(served.port(), "GET /api/rooms/bay-3").status, 200);
  EXPECT_EQ(asked(served.port(), "GET /api/rooms/bay-4").status, 404);
}

// A decision loop that is stopping answers late or never: nothing may hang on it, nothing may touch what is gone.
TEST(TheServer, EndsWhileQuestionsAreWaiting) {
  Served served;
  served.answers = false;
  Client client{served.port()};
  client.send(request_text("GET /api/site"));
  while (served.asked().empty()) std::this_thread::sleep_for(1ms);
  served.stop();
  EXPECT_TRUE(client.is_closed());
  served.answer_late();
}

TEST(TheServer, SaysWhenItsPortIsTaken) {
  Served served;
  config::Http same;
  same.port = served.port();
  const ScratchDir dir;
  const HttpServer second{same, "larkfield", dir.path(), {[](const std::string&, const auto&) {}, [](const auto&) {}}};
  while (second.health().trouble.empty()) std::this_thread::sleep_for(1ms);
  EXPECT_FALSE(second.health().listening);
  EXPECT_NE(second.health().trouble.find("Address already in use"), std::string::npos) << second.health().trouble;
}

} // namespace oxherd::http_server_test
