#include <utility> // before Asio: std::exchange

#include "daemon/collect/collector.hpp"

#include <csignal>
#include <stdexcept>

#include <boost/asio/io_context.hpp>
#include <boost/asio/signal_set.hpp>
#include <boost/asio/steady_timer.hpp>

#include "daemon/collect/page.hpp"
#include "daemon/log.hpp"
#include "daemon/named_thread.hpp"
#include "daemon/service/service_manager.hpp"

namespace oxherd::daemon::collect {
namespace {

namespace asio = boost::asio;

constexpr std::chrono::minutes report_period{10};

Inbox::Limits limits_for(const CollectSettings& settings) {
  Inbox::Limits limits;
  limits.flush_every = settings.database.flush_every;
  return limits;
}

void report(const CollectHealth& health) {
  log::info("{} samples stored, {} came again, {} messages cannot be used, {} wait", health.writer.stored,
            health.writer.again, health.writer.malformed, health.writer.waiting);
}

void report_every(asio::steady_timer& timer, const Collector& collector) {
  timer.expires_after(report_period);
  timer.async_wait([&](const boost::system::error_code& ec) {
    if (ec) return;
    report(collector.health());
    report_every(timer, collector);
  });
}

} // namespace

Collector::Collector(const CollectSettings& settings)
    : inbox_{limits_for(settings), [this] { reader_.resume(); }},
      reader_{settings, [this](Delivery delivery) { return inbox_.put(std::move(delivery)); }},
      writer_{settings, inbox_, [this](std::vector<Delivery> stored) { reader_.acknowledge(std::move(stored)); }},
      roll_up_{settings.database} {
  reader_.start();
  write_thread_ = named_thread("writer", [this] { writer_.run(); });
  roll_up_thread_ = named_thread("roll-up", [this] { roll_up_.run(); });
}

Collector::~Collector() {
  roll_up_.stop();
  writer_.stop();
  write_thread_.join();
  reader_.stop(); // behind the writer: its last acknowledgements go out first
  roll_up_thread_.join();
}

CollectHealth Collector::health() const { return {reader_.health(), writer_.health(), roll_up_.trouble()}; }

std::uint64_t Collector::progress() const { return writer_.progress(); }

void run_collector(const CollectSettings& settings, const std::filesystem::path& state_dir) {
  // A broker or a database that goes away is an error, not the end.
  if (std::signal(SIGPIPE, SIG_IGN) == SIG_ERR) throw std::runtime_error{"SIGPIPE cannot be ignored"};
  asio::io_context io{1};
  asio::signal_set signals{io, SIGTERM, SIGINT};
  asio::steady_timer timer{io};
  Collector collector{settings};
  std::optional<Page> page;
  if (settings.http) page.emplace(settings, state_dir, [&collector] { return collector.health(); });
  ServiceManager service{[&collector] { return std::vector<std::uint64_t>{collector.progress()}; }};
  signals.async_wait([&](const boost::system::error_code&, int) {
    service.stopping();
    timer.cancel();
  });
  report_every(timer, collector);
  service.ready("collecting");
  log::info("collecting what is published below {}/", settings.mqtt.prefix);
  io.run();
  report(collector.health());
}

} // namespace oxherd::daemon::collect
