#include "daemon/sparkplug/worker.hpp"

#include <algorithm>
#include <utility>

#include <fmt/core.h>

#include "daemon/clock.hpp"
#include "daemon/log.hpp"
#include "daemon/mqtt/login.hpp"
#include "daemon/mqtt/retry_pause.hpp"

namespace oxherd::daemon::sparkplug {
namespace {

using namespace std::chrono_literals;

constexpr auto subscribing_at_most = 10s;
constexpr auto goodbye_at_most = 400ms; // the destructor promises two seconds
/// Without an evaluation for so long nobody can say that what was published still holds. Project's proposal.
constexpr auto evaluated_at_least = 10s;
constexpr std::uint64_t goodbye = 2;     // id of the death, that of all else is 1
constexpr std::size_t window = 20;       // messages on their way to the network
constexpr std::size_t events_max = 1000; // commands beyond these pass by

} // namespace

Worker::Worker(const config::Mqtt& settings, const std::string& site, Plan plan, const std::filesystem::path& state_dir)
    : settings_{settings}, site_{site}, client_id_{client_id_of(settings, site) + "-sparkplug"},
      node_{settings.sparkplug->group, site, std::move(plan), settings.pack}, number_{state_dir / "sparkplug-births"} {}

void Worker::run() {
  RetryPause retry;
  while (!is_stopping()) {
    const auto why = serve();
    if (is_stopping()) return;
    note_failure(why);
    if (!pause(retry.next(std::exchange(connected_at_, std::nullopt), Clock::now()))) return;
  }
}

void Worker::stop() {
  const std::lock_guard hold{lock_};
  stopping_ = true;
  wake_.notify_one();
}

Health Worker::health() const {
  const std::lock_guard hold{lock_};
  return {connected_, trouble_, node_.births(), node_.commands_ignored() + commands_passed_over_};
}

void Worker::wake() {
  const std::lock_guard hold{lock_};
  poked_ = true;
  wake_.notify_one();
}

void Worker::evaluated() {
  const std::lock_guard hold{lock_};
  last_evaluated_ = Clock::now();
  poked_ = true;
  wake_.notify_one();
}

bool Worker::is_stale() const { return Clock::now() - last_evaluated_ > evaluated_at_least; }

/// One connection from the attempt to its end; says why it ended. Meaningless once stop was asked for.
std::string Worker::serve() {
  {
    const std::lock_guard hold{lock_};
    if (is_stale()) return "nothing is evaluated any more";
  }
  const auto number = next_number();
  const auto death = node_.death(number, wall_now());
  const auto with = login_of(settings_, client_id_, {death.topic, death.payload, false});
  if (!with) return with.error();
  {
    const std::lock_guard hold{lock_};
    events_.clear(); // nothing of an earlier connection can come any more: it is destroyed
    on_their_way_ = 0;
  }
  Connection connection{*with, [this](ConnectionEvent event) { post(std::move(event)); }};
  // The library looks at its own timeout every few seconds only, so ours is longer and merely the last resort.
  if (auto why = await(ConnectionEvent::Kind::connected, *with, with->connect_timeout + 5s)) return *why;
  if (!connection.subscribe(node_.command_topic())) return "the connection takes no subscription";
  if (auto why = await(ConnectionEvent::Kind::subscribed, *with, subscribing_at_most)) return *why;
  {
    const std::lock_guard hold{lock_};
    node_.begin(number);
  }
  note_connected();
  const auto ended = pump(connection);
  {
    const std::lock_guard hold{lock_};
    connected_ = false;
    node_.end();
  }
  if (!ended.lost) say_goodbye(connection, number);
  return ended.why;
}

/// Nothing when it has come, else why not.
std::optional<std::string> Worker::await(ConnectionEvent::Kind wanted, const ConnectionSettings& with,
                                         std::chrono::milliseconds patience) {
  const auto deadline = Clock::now() + patience;
  for (;;) {
    const auto work = take(deadline, Waits::for_answer);
    if (work.stopping) return "stopped";
    for (const auto& event : work.events) {
      if (event.kind == wanted) return std::nullopt;
      if (event.kind == ConnectionEvent::Kind::received) continue; // before it is born it is asked nothing
      if (event.kind == ConnectionEvent::Kind::not_subscribed)
        return fmt::format("the broker does not permit this client to subscribe to {}", node_.command_topic());
      return why_refused(event, with);
    }
    if (Clock::now() >= deadline) return why_refused({}, with);
  }
}

/// Hands over what the edge node says and hears what comes, until the connection has ended or is to end.
Worker::Ended Worker::pump(Connection& connection) {
  for (;;) {
    Clock::time_point deadline;
    {
      const std::lock_guard hold{lock_};
      deadline = last_evaluated_ + evaluated_at_least + 1ms;
    }
    const auto work = take(deadline, Waits::for_anything);
    if (work.stopping) return {};
    if (work.stale) return {false, "nothing is evaluated any more"};
    while (const auto message = next_message())
      if (!connection.publish({1, message->topic, message->payload, false, message->qos}))
        return {false, "the connection takes no more messages"};
    for (const auto& event : work.events)
      if (auto ended = handle(connection, event)) return std::move(*ended);
  }
}

/// Returns why the connection is of no more use, if so.
std::optional<Worker::Ended> Worker::handle(Connection& connection, const ConnectionEvent& event) {
  if (event.kind == ConnectionEvent::Kind::lost) return Ended{true, event.words};
  if (event.kind == ConnectionEvent::Kind::received) {
    hear(event.payload);
    return std::nullopt;
  }
  if (!connection.settled(event.delivery)) return std::nullopt;
  if (event.kind != ConnectionEvent::Kind::acknowledged) return Ended{false, "the connection broke while sending"};
  const std::lock_guard hold{lock_};
  --on_their_way_;
  poked_ = true; // there is room for more
  return std::nullopt;
}

/// Nothing but a rebirth is obeyed; of the rest the first is told, and all are counted.
void Worker::hear(const std::string& payload) {
  std::string told;
  {
    const std::lock_guard hold{lock_};
    node_.hear(payload, told);
    poked_ = true;
  }
  if (told.empty() || std::exchange(told_of_command_, true)) return;
  log::warning("sparkplug: what came to {} is ignored: {}; only \"{}\" is obeyed, what else comes is only counted",
               node_.command_topic(), told, rebirth_name);
}

/// The death is published before an orderly end, for a clean end sends no will
/// (tck-id-operational-behavior-edge-node-intentional-disconnect-ndeath).
void Worker::say_goodbye(Connection& connection, std::uint8_t number) {
  const auto death = node_.death(number, wall_now());
  if (!connection.publish({goodbye, death.topic, death.payload, false, death.qos})) return;
  for (const auto deadline = Clock::now() + goodbye_at_most; Clock::now() < deadline;)
    for (const auto& event : take(deadline, Waits::for_goodbye).events) {
      if (event.kind == ConnectionEvent::Kind::lost) return;
      if (connection.settled(event.delivery) == goodbye) return;
    }
}

/// Waits for something to do, until the deadline at most.
Worker::Work Worker::take(Clock::time_point deadline, Waits waits) {
  std::unique_lock hold{lock_};
  wake_.wait_until(hold, deadline, [&] {
    if (!events_.empty()) return true;
    return waits == Waits::for_anything ? poked_ || stopping_ : waits == Waits::for_answer && stopping_;
  });
  poked_ = false;
  return {std::exchange(events_, {}), stopping_, is_stale()};
}

/// One at a time, so that whoever tells something waits for the forming of one message at most.
std::optional<Message> Worker::next_message() {
  const std::lock_guard hold{lock_};
  if (stopping_ || on_their_way_ >= window) return std::nullopt;
  auto message = node_.next(monotonic_now(), wall_now());
  if (message) ++on_their_way_;
  return message;
}

void Worker::post(ConnectionEvent event) {
  const std::lock_guard hold{lock_};
  if (event.kind == ConnectionEvent::Kind::received && events_.size() >= events_max) {
    ++commands_passed_over_;
    return;
  }
  events_.push_back(std::move(event));
  wake_.notify_one();
}

std::uint8_t Worker::next_number() {
  std::string trouble;
  const auto number = number_.next(trouble);
  if (!trouble.empty() && !std::exchange(told_of_disk_, true))
    log::warning("sparkplug: the number of this birth is not kept, so that the next start may use it again: {}",
                 trouble);
  return number;
}

void Worker::note_connected() {
  connected_at_ = Clock::now();
  {
    const std::lock_guard hold{lock_};
    connected_ = true;
    trouble_.clear();
    poked_ = true;
  }
  log::info("sparkplug: connected to {} as edge node {} of group {}{}", settings_.broker, site_,
            settings_.sparkplug->group,
            failures_ > 0 ? fmt::format("; before that it failed {} times", failures_) : "");
  failures_ = 0;
}

/// Only the first failure is logged; the recovery tells how many there were.
void Worker::note_failure(const std::string& why) {
  {
    const std::lock_guard hold{lock_};
    trouble_ = why;
  }
  if (failures_++ == 0)
    log::warning("sparkplug: {}: {} (nothing is kept for it; trying again at least every {} s)", settings_.broker, why,
                 RetryPause::longest.count());
}

bool Worker::pause(std::chrono::milliseconds duration) {
  std::unique_lock hold{lock_};
  return !wake_.wait_for(hold, duration, [this] { return stopping_; });
}

bool Worker::is_stopping() const {
  const std::lock_guard hold{lock_};
  return stopping_;
}

} // namespace oxherd::daemon::sparkplug
