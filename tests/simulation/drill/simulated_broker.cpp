#include "tests/simulation/drill/simulated_broker.hpp"

#include "tests/simulation/drill/chance.hpp"

namespace oxherd::drill {
namespace {

using namespace std::chrono_literals;
using daemon::Monotonic;

/// The disk is asked once a second by the daemon. While only measurements wait, some minutes are often enough here: how
/// many of them a kill costs is no question of this drill, and fewer come meanwhile than memory holds.
constexpr Monotonic turn = 1s, turn_for_measurements = 300s;
/// Likewise while the disk does not take what it is given; whatever befalls it next is poked.
constexpr Monotonic turn_in_trouble = 300s;
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
  if (const auto turn_at = turn_due()) due_ = std::min(due_.value_or(*turn_at), std::max(now, *turn_at));
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
    if (whole || luck > 1)
      outbox_->acknowledged(message->id);
    else
      doubtful_ = true;
  }
}

/// When the disk is asked next; empty: there is nothing to ask it.
std::optional<Monotonic> SimulatedBroker::turn_due() const {
  if (lines_came_ || outbox_->wants_disk()) return next_turn_;
  const bool reads_on = connected_ && state == State::well && outbox_->journal_waiting() > 0;
  if (reads_on) return next_turn_;
  if (outbox_->waiting() > 0) return std::max(next_turn_, last_turn_ + turn_for_measurements);
  return std::nullopt;
}

void SimulatedBroker::take_turns(Monotonic now) {
  for (int turns = 0; turns < 100; ++turns) { // a disk that is quick takes turn after turn
    auto outcome = keeper_->carry_out(outbox_->order());
    const bool well = outcome.trouble.empty();
    outbox_->take(std::move(outcome));
    pump(now);
    if (well) lines_came_ = false;
    next_turn_ = now + (well ? turn : turn_in_trouble);
    if (!well || !outbox_->wants_disk()) break;
  }
  last_turn_ = now;
}

void SimulatedBroker::work(Monotonic now) {
  if (!outbox_ || !due_ || *due_ > now) return;
  pump(now);
  if (const auto turn_at = turn_due(); turn_at && *turn_at <= now) take_turns(now);
  due_ = turn_due();
  if (state == State::away || (state == State::well && connected_ && !doubtful_)) return;
  due_ = std::min(due_.value_or(now + pause), std::max(now + turn, change_at_)); // the connection changes by itself
}

void SimulatedBroker::lines_written(Monotonic now) {
  lines_came_ = true;
  due_ = std::min(due_.value_or(next_turn_), std::max(now, next_turn_));
}

void SimulatedBroker::poke(Monotonic now) { due_ = next_turn_ = now; }

} // namespace oxherd::drill
