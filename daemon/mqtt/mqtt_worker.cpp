#include "daemon/mqtt/mqtt_worker.hpp"

#include <algorithm>
#include <utility>

#include <fmt/core.h>

#include "daemon/log.hpp"
#include "daemon/mqtt/login.hpp"
#include "daemon/mqtt/retry_pause.hpp"

namespace oxherd::daemon {
namespace {

using namespace std::chrono_literals;

// The destructor promises two seconds; what the library needs for closing comes on top of these.
constexpr auto drain_at_most = 600ms;
constexpr auto goodbye_at_most = 400ms;

/// What may wait in memory, for the disk or instead of it: some MB.
constexpr int memory_max = 10000;

} // namespace

MqttWorker::MqttWorker(const config::Mqtt& settings, const std::string& site, const std::filesystem::path& state_dir,
                       std::function<void(const MqttHealth&)> changed, std::optional<std::int64_t> told_to)
    : settings_{settings}, client_id_{client_id_of(settings, site)},
      status_topic_{settings.prefix + "/" + site + "/status"}, changed_{std::move(changed)},
      outbox_{OutboxLimits{.measurements = static_cast<std::size_t>(std::clamp(settings.queue_max, 1, memory_max))},
              settings.prefix + "/" + site + "/journal"},
      keeper_{state_dir,
              static_cast<std::size_t>(std::max(settings.queue_max, 1)),
              {[this] { return disk_order(); }, [this](DiskOutcome done) { return disk_done(std::move(done)); }},
              told_to} {
  outbox_.expect_disk();
  outbox_.state(status_topic_, "online");
}

void MqttWorker::run() {
  RetryPause retry;
  while (!is_stopping()) {
    const auto why = serve();
    if (is_stopping()) return;
    note_failure(why);
    if (!pause(retry.next(std::exchange(connected_at_, std::nullopt), Clock::now()))) return;
  }
}

void MqttWorker::stop() {
  const std::lock_guard hold{lock_};
  stopping_ = true;
  wake_.notify_one();
}

MqttHealth MqttWorker::health() const {
  const std::lock_guard hold{lock_};
  MqttHealth health;
  health.connected = connected_;
  health.trouble = trouble_;
  health.disk_trouble = disk_trouble_;
  health.published = outbox_.published();
  health.dropped_measurements = outbox_.dropped_measurements();
  health.waiting = outbox_.waiting();
  health.on_disk = outbox_.on_disk();
  health.journal_waiting = outbox_.journal_waiting();
  return health;
}

void MqttWorker::publish(std::string topic, std::string payload, std::function<void(std::string)> done) {
  const std::lock_guard hold{lock_};
  if (!connected_)
    return done(fmt::format("broker {}: {}", settings_.broker, trouble_.empty() ? "not connected" : trouble_));
  outbox_.letter(std::move(topic), std::move(payload), [done = std::move(done)](bool acknowledged) {
    done(acknowledged ? "" : "the connection to the broker ended before the broker had acknowledged the message");
  });
  poke();
}

/// One connection from the attempt to its end; says why it ended. Meaningless once stop was asked for.
std::string MqttWorker::serve() {
  const auto with = login_of(settings_, client_id_, {status_topic_, "offline", true});
  if (!with) return with.error();
  {
    const std::lock_guard hold{lock_};
    events_.clear(); // nothing of an earlier connection can come any more: it is destroyed
  }
  Connection connection{*with, [this](ConnectionEvent event) { post(std::move(event)); }};
  if (auto why = await_answer(*with)) return *why;
  note_connected();
  const auto lost = pump(connection);
  if (!lost) say_goodbye(connection);
  const std::lock_guard hold{lock_};
  connected_ = false;
  outbox_.disconnected();
  return lost.value_or("");
}

/// Nothing when the broker has accepted us, else why not.
std::optional<std::string> MqttWorker::await_answer(const ConnectionSettings& with) {
  // The library looks at its own timeout every few seconds only, so ours is longer and merely the last resort.
  const auto deadline = Clock::now() + with.connect_timeout + 5s;
  for (;;) {
    const auto work = take(deadline);
    if (work.stopping) return "stopped";
    for (const auto& event : work.events) {
      if (event.kind == ConnectionEvent::Kind::connected) return std::nullopt;
      return why_refused(event, with);
    }
    if (Clock::now() >= deadline) return why_refused({}, with);
  }
}

/// Hands over and settles; returns why the connection ended, or nothing once stop was asked for.
std::optional<std::string> MqttWorker::pump(Connection& connection) {
  for (;;) {
    const auto work = take(Clock::time_point::max());
    if (auto why = handle(connection, work)) return why;
    if (work.stopping) return std::nullopt;
  }
}

/// Sends what still waits, then `offline`: a clean end sends no last will. All within fixed times.
void MqttWorker::say_goodbye(Connection& connection) {
  leaving_ = true;
  for (const auto deadline = Clock::now() + drain_at_most; !all_sent() && Clock::now() < deadline;)
    if (handle(connection, take(deadline))) return;
  if (!connection.publish({0, status_topic_, "offline", true})) return;
  for (const auto deadline = Clock::now() + goodbye_at_most; !goodbye_acknowledged_ && Clock::now() < deadline;)
    if (handle(connection, take(deadline))) return;
}

/// Waits for something to do, until the deadline at most.
MqttWorker::Work MqttWorker::take(Clock::time_point deadline) {
  std::unique_lock hold{lock_};
  const auto something = [this] { return poked_ || (stopping_ && (!leaving_ || !events_.empty())); };
  if (deadline == Clock::time_point::max())
    wake_.wait(hold, something);
  else
    wake_.wait_until(hold, deadline, something);
  poked_ = has_later_ = false;
  Work work;
  work.stopping = stopping_;
  work.events = std::exchange(events_, {});
  for (;;) {
    auto message = outbox_.next();
    if (!message) break;
    work.messages.push_back(std::move(*message));
  }
  if (outbox_.wants_disk()) keeper_.poke();
  return work;
}

/// Returns why the connection is of no more use, if so.
std::optional<std::string> MqttWorker::handle(Connection& connection, const Work& work) {
  for (const auto& message : work.messages)
    if (!connection.publish(message)) return "the connection takes no more messages";
  for (const auto& event : work.events) {
    if (event.kind == ConnectionEvent::Kind::lost) return event.words;
    const auto message = connection.settled(event.delivery);
    if (!message) continue;
    if (event.kind != ConnectionEvent::Kind::acknowledged) return "the connection broke while sending";
    if (*message == 0) goodbye_acknowledged_ = true;
    add([&](Outbox& outbox) { outbox.acknowledged(*message); }); // also wakes us: the window has room again
  }
  return std::nullopt;
}

void MqttWorker::post(ConnectionEvent event) {
  const std::lock_guard hold{lock_};
  const bool may_wait = event.kind == ConnectionEvent::Kind::acknowledged && !stopping_ &&
                        events_.size() + 1 < outbox_.acknowledgements_awaited();
  events_.push_back(std::move(event));
  if (may_wait)
    has_later_ = true;
  else
    poke();
}

void MqttWorker::flush() {
  const std::lock_guard hold{lock_};
  if (!std::exchange(has_later_, false)) return;
  poke();
}

DiskOrder MqttWorker::disk_order() {
  const std::lock_guard hold{lock_};
  return outbox_.order();
}

/// Returns whether there is more to be done at once.
bool MqttWorker::disk_done(DiskOutcome outcome) {
  const std::lock_guard hold{lock_};
  disk_trouble_ = outcome.trouble;
  outbox_.take(std::move(outcome));
  poke();
  return outbox_.wants_disk();
}

void MqttWorker::note_connected() {
  connected_at_ = Clock::now();
  {
    const std::lock_guard hold{lock_};
    connected_ = true;
    trouble_.clear();
    outbox_.connected();
    poked_ = true;
  }
  const auto now = health();
  if (failures_ == 0)
    log::info("mqtt: connected to {}", settings_.broker);
  else
    log::info("mqtt: connected to {}; before that it failed {} times; {} messages wait, {} measurements were dropped",
              settings_.broker, failures_, now.waiting, now.dropped_measurements - dropped_before_);
  failures_ = 0;
  if (changed_) changed_(now);
}

/// Only the first failure is logged; the recovery tells how many there were.
void MqttWorker::note_failure(const std::string& why) {
  {
    const std::lock_guard hold{lock_};
    trouble_ = why;
  }
  const auto now = health();
  if (failures_++ == 0) {
    dropped_before_ = now.dropped_measurements;
    log::warning("mqtt: {}: {} (states, the journal and up to {} packs of measurements are kept; trying again at least "
                 "every {} s)",
                 settings_.broker, why, settings_.queue_max, RetryPause::longest.count());
  }
  if (changed_) changed_(now);
}

bool MqttWorker::pause(std::chrono::milliseconds duration) {
  std::unique_lock hold{lock_};
  return !wake_.wait_for(hold, duration, [this] { return stopping_; });
}

bool MqttWorker::all_sent() const {
  const std::lock_guard hold{lock_};
  return outbox_.all_sent();
}

bool MqttWorker::is_stopping() const {
  const std::lock_guard hold{lock_};
  return stopping_;
}

} // namespace oxherd::daemon
