#include "daemon/control_socket/server.hpp"

#include <array>
#include <stdexcept>
#include <utility>

#include <fmt/core.h>
#include <sys/stat.h>

#include <boost/asio/local/stream_protocol.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/write.hpp>

#include "daemon/control_socket/requests.hpp"
#include "daemon/log.hpp"

namespace oxherd::daemon {
namespace {

namespace asio = boost::asio;
using asio::local::stream_protocol;
using boost::system::error_code;

constexpr std::size_t request_max = 64 * 1024;
constexpr int sessions_max = 32;
constexpr std::chrono::seconds patience{10};
constexpr std::chrono::milliseconds accept_pause{100};

/// One connection. Lives while one of its handlers is pending.
class Session : public std::enable_shared_from_this<Session> {
public:
  Session(stream_protocol::socket socket, SocketOwner owner, RequestHandler handler, std::shared_ptr<int> count)
      : socket_{std::move(socket)}, owner_{owner}, deadline_{socket_.get_executor()}, handler_{std::move(handler)},
        count_{std::move(count)} {
    ++*count_;
  }
  ~Session() { --*count_; }
  Session(const Session&) = delete;
  Session& operator=(const Session&) = delete;

  void start() {
    deadline_.expires_after(patience);
    deadline_.async_wait([me = shared_from_this()](error_code ec) {
      if (ec) return;
      error_code ignored;
      me->socket_.close(ignored); // a client that sends nothing, or reads nothing, is let go
    });
    read();
  }

private:
  void read() {
    socket_.async_read_some(asio::buffer(chunk_), [me = shared_from_this()](error_code ec, std::size_t n) {
      if (ec) return me->finish();
      me->request_.append(me->chunk_.data(), n);
      const auto end = me->request_.find('\n');
      if (end != std::string::npos) return me->answer(me->request_.substr(0, end));
      if (me->request_.size() > request_max)
        return me->send(R"({"ok":false,"kind":"refused","error":"the request is longer than 64 KiB"})");
      me->read();
    });
  }
  void answer(std::string request) {
    deadline_.cancel();
    const auto peer = peer_of(socket_.native_handle());
    if (!peer || !may_ask(*peer, owner_)) {
      const auto who = peer ? fmt::format("uid {}", peer->uid) : "somebody unknown";
      log::warning("control socket: {} is refused", who);
      return send(
          declined("refused", fmt::format("{} may not ask: add the account to the group of the control socket (gid {})",
                                          who, owner_.gid)));
    }
    // The reply may come from another thread, and end there: both are carried back to the loop, which alone touches the
    // session, its end included.
    const auto executor = socket_.get_executor();
    const std::shared_ptr<Session> held{
        this, [me = shared_from_this(), executor](Session*) mutable { asio::post(executor, [me = std::move(me)] {}); }};
    handler_(std::move(request), *peer, [held, executor](std::string text) {
      asio::post(executor, [held, line = std::move(text)]() mutable { held->send(std::move(line)); });
    });
  }
  void send(std::string text) {
    reply_ = std::move(text);
    reply_ += '\n';
    deadline_.expires_after(patience);
    deadline_.async_wait([me = shared_from_this()](error_code ec) {
      error_code ignored;
      if (!ec) me->socket_.close(ignored);
    });
    asio::async_write(socket_, asio::buffer(reply_),
                      [me = shared_from_this()](error_code, std::size_t) { me->finish(); });
  }
  void finish() {
    deadline_.cancel();
    error_code ignored;
    socket_.close(ignored);
  }

  stream_protocol::socket socket_;
  const SocketOwner owner_;
  asio::steady_timer deadline_;
  RequestHandler handler_;
  std::shared_ptr<int> count_;
  std::array<char, 4096> chunk_{};
  std::string request_, reply_;
};

} // namespace

class ControlServer::Listener : public std::enable_shared_from_this<ControlServer::Listener> {
public:
  Listener(asio::io_context& loop, std::filesystem::path path, RequestHandler handler)
      : path_{std::move(path)}, acceptor_{loop}, pause_{loop}, handler_{std::move(handler)} {
    std::error_code ignored;
    std::filesystem::remove(path_, ignored); // left behind by a run that was killed; the directory's lock is ours
    try {
      acceptor_.open();
      acceptor_.bind(stream_protocol::endpoint{path_.string()});
      acceptor_.listen();
    } catch (const boost::system::system_error& e) {
      throw std::runtime_error(fmt::format("control socket {}: {}", path_.string(), e.code().message()));
    }
    if (::chmod(path_.c_str(), 0660) != 0)
      throw std::runtime_error(fmt::format("control socket {}: its mode cannot be set to 0660", path_.string()));
    struct stat about {};
    if (::stat(path_.c_str(), &about) != 0)
      throw std::runtime_error(fmt::format("control socket {}: nobody says whose it is", path_.string()));
    owner_ = {about.st_uid, about.st_gid};
  }

  void accept() {
    acceptor_.async_accept([me = shared_from_this()](error_code ec, stream_protocol::socket socket) {
      if (!me->acceptor_.is_open()) return;
      if (ec) return me->try_again_later(ec);
      if (*me->count_ < sessions_max)
        std::make_shared<Session>(std::move(socket), me->owner_, me->handler_, me->count_)->start();
      me->accept();
    });
  }

  void close() {
    error_code ignored;
    acceptor_.close(ignored);
    pause_.cancel();
    std::error_code also_ignored;
    std::filesystem::remove(path_, also_ignored);
  }

private:
  /// Out of descriptors, say: an accept loop without a pause would spin.
  void try_again_later(error_code ec) {
    log::warning("control socket: {}", ec.message());
    pause_.expires_after(accept_pause);
    pause_.async_wait([me = shared_from_this()](error_code waited) {
      if (!waited && me->acceptor_.is_open()) me->accept();
    });
  }

  std::filesystem::path path_;
  SocketOwner owner_;
  stream_protocol::acceptor acceptor_;
  asio::steady_timer pause_;
  RequestHandler handler_;
  std::shared_ptr<int> count_ = std::make_shared<int>(0);
};

ControlServer::ControlServer(asio::io_context& loop, const std::filesystem::path& path, RequestHandler handler)
    : listener_{std::make_shared<Listener>(loop, path, std::move(handler))} {
  listener_->accept();
}

ControlServer::~ControlServer() { listener_->close(); }

} // namespace oxherd::daemon
