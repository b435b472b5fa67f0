#include "tests/simulation/drill/simulated_broker.hpp"

#include "tests/simulation/drill/chance.hpp"

namespace oxherd::drill {
namespace {

using namespace std::chrono_literals;
using daemon::Monotonic;

/// The disk is asked once a second by the daemon. While only measurements wait, a minute is often enough here: how many
/// of them a kill costs is no question of this drill.
constexpr Monotonic turn = 1s, turn_for_measurements = 60s;
constexpr Monotonic patience = 22s, pause = 5s; ///< with a broker that is silent (keep-alive 15 s); between attempts

} // namespace

std::string SimulatedBroker::topic_of(const std::string& room, const std::string& alarm) {
  return room + "/alarms/" + alarm;
}

void SimulatedBroker::start(const daemon::Site& site, Monotonic now) {
  outbox_.emplace(daemon::OutboxLimits{}, "journal");
  outbox_->expect_disk();
  keeper_ = std::make_unique<daemon::SpoolKeeper>(disk_.path(), 50000, daemon::SpoolKeeper::Desk{});
  connected_ = doubtful_ = false;
  change_at_ = next_turn_ = now;
  lines_came_ = true;
  for (std::size_t r = 0; r < site.settings().rooms.size(); ++r)
    for (const auto& alarm : site.settings().rooms[r].alarms)
      outbox_->change(topic_of(site.settings().rooms[r].name, alarm.name),
                      std::string{alarms::name_of(site.state_of(r, alarm.name))});
  due_ = now;
}

void SimulatedBroker::leave() {
  const auto was = std::exchange(disk_.state, SimulatedDisk::State::left);
  outbox_.reset();
  keeper_.reset();
  due_.reset();
  disk_.state = was;
}

void SimulatedBroker::tell(const daemon::Outcome& outcome, Monotonic now) {
  for (const auto& news : outcome.alarms)
    outbox_->change(topic_of(news.status.room, news.status.alarm), std::string{alarms::name_of(news.status.state)});
  for (const auto& reading : outcome.readings) outbox_->measurement(reading.sensor, {});
  lines_came_ = lines_came_ || !outcome.alarms.empty() || !outcome.room_events.empty();
  pump(now);
  if (lines_came_ || outbox_->waiting() > 0) due_ = std::min(due_.value_or(next_turn_), std::max(now, next_turn_));
}

void SimulatedBroker::take(const daemon::Outgoing& message) {
  if (loses_every > 0 && ++taken_ % static_cast<std::uint64_t>(loses_every) == 0) return;
  if (message.topic == "journal")
    received_.lines.insert(std::stoll(message.payload.substr(message.payload.find("\"sequence\":") + 11)));
  else if (message.retained)
    received_.retained[message.topic] = message.payload;
  else
    ++received_.measurements;
}

void SimulatedBroker::pump(Monotonic now) {
  const bool reachable = state != State::away;
  const bool lasts = state == State::well && !doubtful_;
  if (connected_ && (!reachable || (!lasts && now >= change_at_))) {
    outbox_->disconnected();
    connected_ = doubtful_ = false;
    change_at_ = now + pause;
  }
  if (!connected_ && reachable && now >= change_at_) {
    outbox_->connected();
    connected_ = true;
    const auto drawn = mixed(seed_ ^ static_cast<std::uint64_t>(now.count())) % 9000;
    change_at_ = now + (state == State::flaps ? Monotonic{1000 + drawn} : patience);
  }
  while (connected_) {
    const auto message = outbox_->next();
    if (!message) return;
    if (state == State::silent) {
      doubtful_ = true; // the keep-alive finds no answer either
      continue;
    }
    const auto luck = mixed(seed_ ^ message->id) % 4;
    const bool whole = state != State::flaps;
    if (whole || luck != 0) take(*message);
    if (whole || luck > 1) outbox_->acknowledged(message->id);
  }
}

void SimulatedBroker::work(Monotonic now) {
  if (!outbox_ || !due_ || *due_ > now) return;
  due_.reset();
  pump(now);
  for (int turns = 0; now >= next_turn_ && turns < 100; ++turns) { // a disk that is quick takes turn after turn
    auto outcome = keeper_->carry_out(outbox_->order());
    const bool well = outcome.trouble.empty();
    outbox_->take(std::move(outcome));
    pump(now);
    if (well) lines_came_ = false;
    if (!well || !outbox_->wants_disk()) {
      next_turn_ = now + turn;
      break;
    }
  }
  const bool reads_on = connected_ && state == State::well && outbox_->journal_waiting() > 0;
  const bool soon = lines_came_ || reads_on || outbox_->wants_disk();
  if (soon || outbox_->waiting() > 0) due_ = now + (soon ? turn : turn_for_measurements);
  if (state == State::away || (state == State::well && connected_ && !doubtful_)) return;
  due_ = std::min(due_.value_or(now + pause), std::max(now + turn, change_at_)); // the connection changes by itself
}

} // namespace oxherd::drill
