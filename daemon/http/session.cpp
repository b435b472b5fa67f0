#include <utility> // before Asio: std::exchange

#include "daemon/http/session.hpp"

#include <array>
#include <optional>

#include <boost/asio/steady_timer.hpp>
#include <boost/beast/http/parser.hpp>
#include <boost/beast/http/string_body.hpp>

namespace oxherd::daemon::http {
namespace {

namespace asio = boost::asio;
namespace beast = boost::beast;
using boost::system::error_code;
using Parser = beast::http::request_parser<beast::http::string_body>;

constexpr std::uint32_t head_max = 16 * 1024;
constexpr std::uint64_t body_max = 64 * 1024;
constexpr std::chrono::seconds request_within{10}, idle_at_most{60}, taken_within{20}, answered_within{120},
    parted_within{2};

Method method_of(beast::http::verb verb) {
  switch (verb) {
  case beast::http::verb::get: return Method::get;
  case beast::http::verb::head: return Method::head;
  case beast::http::verb::post: return Method::post;
  case beast::http::verb::delete_: return Method::remove;
  default: return Method::other;
  }
}

class Session : public std::enable_shared_from_this<Session> {
public:
  Session(std::unique_ptr<Connection> connection, SessionParts parts)
      : connection_{std::move(connection)}, parts_{std::move(parts)}, deadline_{connection_->socket().get_executor()} {
    parts_.places->enter();
  }
  ~Session() {
    parts_.places->no_longer_waits(ticket_);
    parts_.places->leave();
  }
  Session(const Session&) = delete;
  Session& operator=(const Session&) = delete;

  void start() {
    wait_in_line();
    expect_within(request_within);
    connection_->shake_hands([me = shared_from_this()](error_code ec) {
      if (!ec) me->next_request();
    });
  }

private:
  /// Whoever is too slow is let go: the pending operation ends with an error, and with it the session.
  void expect_within(std::chrono::seconds time) {
    deadline_.expires_after(time);
    deadline_.async_wait([weak = weak_from_this()](error_code ec) {
      const auto me = weak.lock();
      if (!ec && me) me->connection_->close();
    });
  }

  /// Until a whole request is there, this one may have to make room for another.
  void wait_in_line() {
    ticket_ = parts_.places->waits([weak = weak_from_this()] {
      if (const auto me = weak.lock()) me->connection_->close();
    });
  }

  void next_request() {
    parser_.emplace();
    parser_->eager(true);
    parser_->header_limit(head_max);
    parser_->body_limit(body_max);
    parse();
  }

  void parse() {
    error_code ec;
    while (!unread_.empty() && !parser_->is_done()) {
      const auto used = parser_->put(asio::buffer(unread_), ec);
      unread_.erase(0, used);
      if (ec == beast::http::error::need_more) break;
      if (ec) return refuse(ec);
      if (used == 0) break;
    }
    if (parser_->is_done()) return answer();
    // What is left is the beginning of a head, of a chunk's line or of a trailer, none of which the parser bounds.
    if (unread_.size() > head_max) return refuse(beast::http::error::header_limit);
    connection_->read_some(chunk_, [me = shared_from_this()](error_code failed, std::size_t n) {
      if (failed) {
        me->deadline_.cancel();
        return;
      }
      if (me->unread_.empty() && !me->parser_->got_some()) me->expect_within(request_within);
      me->unread_.append(me->chunk_.data(), n);
      me->parse();
    });
  }

  void refuse(error_code ec) {
    const bool long_body = ec == beast::http::error::body_limit;
    const bool long_head = ec == beast::http::error::header_limit;
    send(long_body   ? problem(413, "a body of 64 KiB is the longest that is taken")
         : long_head ? problem(431, "a head of 16 KiB is the longest that is taken")
                     : problem(400, "this is no request of HTTP/1.1"),
         false, true);
  }

  void answer() {
    parts_.places->no_longer_waits(ticket_);
    const auto& message = parser_->get();
    HttpRequest request;
    request.method = method_of(message.method());
    for (const auto& field : message) {
      std::string name{field.name_string()};
      for (char& c : name) c = c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
      request.headers.emplace(std::move(name), std::string{field.value()});
    }
    request.body = message.body();
    error_code ignored;
    request.from_this_machine = connection_->socket().remote_endpoint(ignored).address().is_loopback();
    request.peer = connection_->socket().remote_endpoint(ignored).address().to_string();
    const std::string_view target{message.target().data(), message.target().size()};
    const bool head = request.method == Method::head, close = !message.keep_alive();
    // Whoever stands between may have read it in the other way.
    if (message.count(beast::http::field::host) > 1 ||
        (message.count(beast::http::field::transfer_encoding) > 0 && !message.chunked()))
      return send(problem(400, "Host or Transfer-Encoding can be read in more than one way"), head, true);
    if (!parse_target(target, request)) return send(problem(400, "the address cannot be read"), head, close);
    // The answer may come from another thread: it is carried back here before the connection is touched.
    // Meanwhile the deadline keeps the session; whoever answers does not.
    wait_for_answer(head);
    parts_.handler(std::move(request), [weak = weak_from_this(), back = parts_.back, head, close](Answer given) {
      back([weak, head, close, given = std::move(given)] {
        const auto me = weak.lock();
        if (!me || !me->asked_) return;
        me->asked_ = false;
        me->deadline_.cancel();
        if (const auto* response = std::get_if<HttpResponse>(&given))
          me->send(*response, head, close);
        else
          me->start_stream(head);
      });
    });
  }

  void wait_for_answer(bool head) {
    asked_ = true;
    deadline_.expires_after(answered_within);
    deadline_.async_wait([me = shared_from_this(), head](error_code ec) {
      if (ec || !me->asked_) return;
      me->asked_ = false;
      me->send(problem(503, "there was no answer in time: ask again"), head, true);
    });
  }

  void send(const HttpResponse& response, bool head, bool close) {
    out_ = wire_form(response, head, close);
    write([close](Session& me) {
      if (close) return me.part();
      // Of one that was sent behind the last, a part may be here already.
      me.expect_within(me.unread_.empty() ? idle_at_most : request_within);
      me.wait_in_line();
      me.next_request();
    });
  }

  /// Takes what still comes, for a moment: a connection closed over unread bytes is reset, and the answer lost with it.
  void part() {
    error_code ignored;
    connection_->socket().shutdown(boost::asio::ip::tcp::socket::shutdown_send, ignored);
    expect_within(parted_within);
    read_away();
  }
  void read_away() {
    connection_->read_some(chunk_, [me = shared_from_this()](error_code ec, std::size_t) {
      if (!ec) return me->read_away();
      me->connection_->close();
    });
  }

  template <class Then> void write(Then then) {
    expect_within(taken_within);
    connection_->write(out_, [me = shared_from_this(), then](error_code ec) {
      me->deadline_.cancel();
      if (!ec) then(*me);
    });
  }

  void start_stream(bool head) {
    out_ = stream_head();
    if (head) return write([](Session& me) { me.connection_->close(); });
    subscription_ = std::make_shared<Subscription>([weak = weak_from_this()] {
      if (const auto me = weak.lock()) me->push();
    });
    streaming_ = true; // until the head is out
    parts_.hub.subscribe(subscription_);
    write([](Session& me) {
      me.streaming_ = false;
      me.watch_for_end();
      me.push();
    });
  }

  /// A listener sends nothing more; that it went is seen by the end of its stream.
  void watch_for_end() {
    connection_->read_some(chunk_, [me = shared_from_this()](error_code ec, std::size_t) {
      if (!ec) return me->watch_for_end();
      me->subscription_.reset();
      me->connection_->close();
    });
  }

  void push() {
    if (streaming_ || !subscription_) return;
    if (subscription_->overrun()) return connection_->close();
    out_ = subscription_->take();
    if (out_.empty()) return;
    streaming_ = true;
    write([](Session& me) {
      me.streaming_ = false;
      me.push();
    });
  }

  std::unique_ptr<Connection> connection_;
  SessionParts parts_;
  asio::steady_timer deadline_;
  std::optional<Parser> parser_;
  std::array<char, 8192> chunk_{};
  std::string unread_, out_;
  std::shared_ptr<Subscription> subscription_;
  std::uint64_t ticket_ = 0; ///< with which it waits for a request
  bool asked_ = false;       ///< an answer is awaited
  bool streaming_ = false;   ///< a piece of the stream is on its way
};

} // namespace

void serve(std::unique_ptr<Connection> connection, const SessionParts& parts) {
  std::make_shared<Session>(std::move(connection), parts)->start();
}

} // namespace oxherd::daemon::http
