#include <utility> // before Asio: std::exchange

#include "daemon/http/http_server.hpp"

#include <atomic>
#include <mutex>
#include <thread>

#include <boost/asio/io_context.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/thread_pool.hpp>

#include <fmt/core.h>

#include "alarms/texts.hpp"
#include "daemon/http/certificate.hpp"
#include "daemon/http/service.hpp"
#include "daemon/identity/users.hpp"
#include "daemon/json_text.hpp"
#include "daemon/log.hpp"
#include "daemon/named_thread.hpp"
#include "daemon/payloads.hpp"
#include "daemon/time_text.hpp"
#include "daemon/version.hpp"

namespace oxherd::daemon::http {

namespace {

namespace asio = boost::asio;
using asio::ip::tcp;
using boost::system::error_code;

constexpr std::chrono::milliseconds beat_period{1000};
constexpr std::size_t sessions_max = 512;
constexpr std::chrono::seconds try_again_after{10};
constexpr std::chrono::milliseconds accept_pause{100};
/// Records that wait for this thread; beyond, readings are left out of the stream, alarms and rooms never.
constexpr int posts_max = 4096;

std::string hello_json(const std::string& site) {
  return JsonObject{}
      .text("site", site)
      .text("version", version)
      .text("instance", identity::random_token())
      .integer("beat_ms", beat_period.count())
      .text("caution", alarms::caution_short())
      .str();
}

std::string address_text(const config::Http& settings, int port) {
  const bool v6 = settings.host.find(':') != std::string::npos;
  return fmt::format("{}://{}{}{}:{}", settings.certificate_file ? "https" : "http", v6 ? "[" : "", settings.host,
                     v6 ? "]" : "", port);
}

} // namespace

class HttpServer::Worker : public std::enable_shared_from_this<HttpServer::Worker> {
public:
  Worker(config::Http settings, const std::string& site, std::filesystem::path state_dir, DecisionLoop loop)
      : settings_{std::move(settings)}, hub_{hello_json(site)}, state_dir_{std::move(state_dir)},
        loop_{std::move(loop)} {
    health_.address = address_text(settings_, settings_.port);
  }

  void start() {
    const auto weak = weak_from_this();
    const auto back = [weak](std::function<void()> task) {
      if (const auto me = weak.lock()) asio::post(me->io_, std::move(task));
    };
    const auto aside = [weak](std::function<void()> task) {
      if (const auto me = weak.lock()) asio::post(me->aside_, std::move(task));
    };
    service_ = std::make_unique<Service>(Service::Parts{settings_, state_dir_, loop_, aside, back}, hub_);
    back_ = back;
    asio::post(io_, [this] { listen(); });
    thread_ = named_thread("page", [this] { io_.run(); });
  }
  void stop() {
    io_.stop();
    if (thread_.joinable()) thread_.join();
    aside_.join();
  }

  template <class Task> void post(Task task, bool may_be_left_out) {
    if (may_be_left_out && waiting_.load() >= posts_max) return;
    ++waiting_;
    asio::post(io_, [this, task = std::move(task)]() mutable {
      --waiting_;
      task(hub_);
    });
  }

  void beat(const std::string& json) {
    post(
        [this, json](EventHub& hub) {
          hub.tell("beat", json);
          service_->follow_users();
          const std::lock_guard lock{health_mutex_};
          health_.sessions = places_->taken();
          health_.streams = hub.listeners();
        },
        true);
  }

  HttpHealth health() const {
    const std::lock_guard lock{health_mutex_};
    return health_;
  }

private:
  void listen() {
    try {
      certificate_.emplace(settings_);
      const tcp::endpoint endpoint{asio::ip::make_address(settings_.host), static_cast<unsigned short>(settings_.port)};
      acceptor_.open(endpoint.protocol());
      acceptor_.set_option(tcp::acceptor::reuse_address{true});
      acceptor_.bind(endpoint);
      acceptor_.listen();
    } catch (const boost::system::system_error& e) {
      error_code ignored;
      acceptor_.close(ignored);
      return listen_later(e.what());
    }
    const auto address = address_text(settings_, acceptor_.local_endpoint().port());
    set_health(address, {});
    log::info("the page is at {}", address);
    accept();
  }

  void listen_later(const std::string& why) {
    const auto address = address_text(settings_, settings_.port);
    const auto words = fmt::format("{}; tried again every {} s", why, try_again_after.count());
    if (health().trouble != words) log::error("the page cannot be served at {}: {}", address, words);
    set_health(address, words);
    timer_.expires_after(try_again_after);
    timer_.async_wait([this](error_code ec) {
      if (!ec) listen();
    });
  }

  void set_health(const std::string& address, const std::string& trouble) {
    const std::lock_guard lock{health_mutex_};
    health_.address = address;
    health_.trouble = trouble;
    health_.listening = trouble.empty();
    health_.certificate_until = certificate_ ? certificate_->valid_until() : std::nullopt;
  }

  void accept() {
    acceptor_.async_accept([this](error_code ec, tcp::socket socket) {
      if (!acceptor_.is_open()) return;
      if (ec) { // out of descriptors, say: without a pause this would spin
        timer_.expires_after(accept_pause);
        timer_.async_wait([this](error_code waited) {
          if (!waited) accept();
        });
        return;
      }
      follow_certificate();
      if (places_->make_room()) {
        error_code ignored;
        socket.set_option(tcp::no_delay{true}, ignored);
        serve(make_connection(std::move(socket), certificate_->context()),
              {[this](HttpRequest request, const Respond& respond) { service_->answer(std::move(request), respond); },
               back_, hub_, places_});
      }
      accept();
    });
  }

  void follow_certificate() {
    const auto before = certificate_->valid_until();
    const auto trouble = certificate_->follow();
    if (!trouble.empty() && trouble != certificate_trouble_) log::error("{}", trouble);
    certificate_trouble_ = trouble;
    if (certificate_->valid_until() == before) return;
    log::info("the page has a new certificate");
    const std::lock_guard lock{health_mutex_};
    health_.certificate_until = certificate_->valid_until();
  }

  const config::Http settings_;
  EventHub hub_;
  const std::filesystem::path state_dir_;
  const DecisionLoop loop_;
  std::optional<Certificate> certificate_;
  std::string certificate_trouble_;
  std::unique_ptr<Service> service_;
  std::function<void(std::function<void()>)> back_;
  std::shared_ptr<Places> places_ = std::make_shared<Places>(sessions_max);
  std::atomic<int> waiting_{0};
  mutable std::mutex health_mutex_;
  HttpHealth health_;
  asio::thread_pool aside_{1}; ///< checks passwords
  asio::io_context io_{1};     ///< after all that its handlers use
  tcp::acceptor acceptor_{io_};
  asio::steady_timer timer_{io_};
  std::thread thread_;
};

HttpServer::HttpServer(config::Http settings, const std::string& site, const std::filesystem::path& state_dir,
                       DecisionLoop loop)
    : worker_{std::make_shared<Worker>(std::move(settings), site, state_dir, std::move(loop))} {
  worker_->start();
}

HttpServer::~HttpServer() { worker_->stop(); }

void HttpServer::reading(const ReadingRecord& reading) {
  worker_->post([reading](EventHub& hub) { hub.tell("reading", live_reading_payload(reading)); }, true);
}

void HttpServer::alarm(const AlarmRecord&, const AlarmSnapshot&, const AlarmStatus& status) {
  worker_->post([status](EventHub& hub) { hub.tell("alarm", alarm_payload(status)); }, false);
}

void HttpServer::level(const RoomLevel& level) {
  worker_->post([level](EventHub& hub) { hub.tell("level", room_level_payload(level)); }, true);
}

void HttpServer::room(const RoomStatus& room) {
  worker_->post([room](EventHub& hub) { hub.room(room.room, room_answer(room)); }, false);
}

void HttpServer::room_told(const std::string& room, std::string json) {
  worker_->post([room, json = std::move(json)](EventHub& hub) mutable { hub.room(room, std::move(json)); }, false);
}

void HttpServer::removed(const std::string& room, const std::string& alarm) {
  if (alarm.empty()) worker_->post([room](EventHub& hub) { hub.room_removed(room); }, false);
}

void HttpServer::evaluated(std::uint64_t count, alarms::Monotonic now, WallTime wall) {
  if (now < beat_due_) return;
  // On the grid of the first: one that comes a moment late must not put off those after it.
  beat_due_ += beat_period * ((now - beat_due_) / beat_period + 1);
  worker_->beat(JsonObject{}.text("now", rfc3339(wall)).integer("evaluations", static_cast<std::int64_t>(count)).str());
}

HttpHealth HttpServer::health() const { return worker_->health(); }

} // namespace oxherd::daemon::http
