// The clock of a run: what is due next, and what the daemon takes and decides then.
#include "tests/simulation/drill/run.hpp"

#include <algorithm>

#include <fmt/core.h>

#include "tests/simulation/drill/chance.hpp"
#include "tests/simulation/file_calibrations.hpp"

namespace oxherd::drill {
namespace {

using namespace std::chrono_literals;
using daemon::WallTime;

constexpr Monotonic beat = 250ms;
/// Nothing else is due for longer than this: what grows without a sample. A lost probe's uncertainty does so by the
/// hour, what a cell's drift may be by the month.
constexpr Monotonic pause_if_disturbed = 60s, longest_pause = 600s;
/// Where outputs are written and confirmed.
constexpr Monotonic longest_pause_with_gas = 1s;
constexpr WallTime first_day{std::chrono::milliseconds{1'773'129'600'000}}; // 2026-03-10T08:00:00Z

/// How long a reply has waited for the decision thread, which may have looked at the room meanwhile: mostly a moment.
Monotonic wait_of_reply(std::uint64_t seed, daemon::SensorRef at, Monotonic now) {
  constexpr double longest_ms = 200.0;
  const double u = (1.0 + noise(seed, 1000 * at.room + at.sensor, static_cast<std::uint64_t>(now.count()))) / 2.0;
  return Monotonic{static_cast<Monotonic::rep>(longest_ms * u * u * u)};
}

} // namespace

Monotonic next_beat(Monotonic at) { return (at + beat - 1ms) / beat * beat; }

Run::Run(const Script& script)
    : script_{script}, shared_settings_{std::make_shared<const config::Settings>(settings_of(script.site))},
      settings_{*shared_settings_}, calibrations_{simulation::file_calibrations(settings_)},
      bus_{script.site, settings_, script.seed}, records_{disk_, script.keeps_measurements},
      broker_{disk_, script.seed} {
  for (std::size_t r = 0; r < script.site.rooms.size(); ++r) {
    const auto& plan = script.site.rooms[r];
    air_.emplace_back(plan);
    watches_.emplace_back(plan, r);
    threads_.emplace_back(settings_, r);
    threads_.back().start(now_);
    rooms_.emplace_back().taken.resize(settings_.rooms[r].sensors.size());
    add_gas(r);
  }
  for (const auto& h : script.story) {
    edges_.push_back(h.at);
    edges_.push_back(h.at + h.length);
  }
  std::sort(edges_.begin(), edges_.end());
  if (script.breakage == Breakage::message_lost) broker_.loses_every = 7;
}

Outcome Run::live() {
  start();
  while (now_ < script_.length && outcome_.complaints.empty()) {
    now_ = std::max(now_, std::min(next_time(), script_.length));
    step();
  }
  if (outcome_.complaints.empty()) look_back();
  finish();
  return std::move(outcome_);
}

WallTime Run::wall() const { return first_day + now_ + wall_offset_; }

void Run::complain(const std::string& what) {
  outcome_.complaints.push_back(fmt::format("at {:.3f} s: {}", alarms::seconds_of(now_), what));
}

Monotonic Run::next_time() const {
  Monotonic next = script_.length;
  const auto consider = [&](Monotonic at) { next = std::min(next, at); };
  if (edge_ < edges_.size()) consider(edges_[edge_]);
  if (const auto due = gas_due()) consider(*due);
  if (!site_) {
    consider(restart_at_);
    return next;
  }
  for (const auto& thread : threads_) consider(thread.due());
  for (const auto& delivery : deliveries_) consider(delivery.at);
  for (const auto& room : rooms_) consider(room.tick);
  if (const auto due = records_.due()) consider(*due);
  if (const auto due = broker_.due()) consider(*due);
  consider(next_visit_);
  if (next_reload_) consider(*next_reload_);
  return next;
}

void Run::step() {
  if (edge_ < edges_.size() && edges_[edge_] <= now_) turn_of_story();
  work_gas();
  if (!site_ && restart_at_ <= now_) start();
  if (!site_) return;
  deliver();
  poll_sensors();
  for (std::size_t r = 0; r < rooms_.size(); ++r)
    if (rooms_[r].tick <= now_) tick(r);
  if (next_reload_ && *next_reload_ <= now_) reload();
  if (next_visit_ <= now_) visit();
  const bool lines_waited = !records_.lines_written();
  records_.work(now_, {wall(), mono()});
  if (lines_waited && records_.lines_written()) broker_.lines_written(now_);
  broker_.work(now_);
}

void Run::poll_sensors() {
  for (std::size_t r = 0; r < threads_.size(); ++r)
    while (threads_[r].due() <= now_) {
      const auto at = threads_[r].next();
      air_[r].advance_to(alarms::seconds_of(now_));
      auto brought = bus_.poll(at, air_[r], now_, active_);
      if (!brought) {
        threads_[r].hangs(now_);
        break;
      }
      threads_[r].asked(brought->answered, now_, brought->took);
      if (spoil(*brought, at)) continue;
      if (brought->took > 0ms)
        deliveries_.push_back({now_ + brought->took, std::move(brought->poll)});
      else
        take(std::move(brought->poll));
    }
}

void Run::deliver() {
  for (std::size_t i = 0; i < deliveries_.size();)
    if (deliveries_[i].at <= now_) {
      auto poll = std::move(deliveries_[i].poll);
      deliveries_.erase(deliveries_.begin() + static_cast<std::ptrdiff_t>(i));
      take(std::move(poll));
    } else
      ++i;
}

/// Breakages of what comes in. True: nothing comes.
bool Run::spoil(SimulatedBus::Brought& brought, daemon::SensorRef at) const {
  const bool of_cell = at.sensor < script_.site.rooms[at.room].probe_at() && !brought.poll.error;
  if (script_.breakage == Breakage::a_minute_late) brought.took += 60s;
  if (script_.breakage == Breakage::alarm_without_cause && of_cell && now_ > 1h) {
    brought.poll.values[0].raw /= 2.0;
    brought.poll.values[0].si /= 2.0;
  }
  if (script_.breakage != Breakage::low_values_unjudged || !of_cell) return false;
  return air_[at.room].oxygen() < script_.site.rooms[at.room].limit + 0.01;
}

void Run::take(daemon::Poll poll) {
  const auto at = poll.sensor;
  const auto waited = wait_of_reply(script_.seed, at, now_);
  poll.at = mono() - waited;
  poll.wall = wall() - waited;
  ++outcome_.tally.polls;
  ++outcome_.tally.evaluations;
  air_[at.room].advance_to(alarms::seconds_of(now_));
  if (!poll.error) rooms_[at.room].taken[at.sensor] = now_ - waited;
  keep(site_->take(poll));
  evaluated(at.room);
}

void Run::tick(std::size_t room) {
  ++outcome_.tally.evaluations;
  air_[room].advance_to(alarms::seconds_of(now_));
  keep(site_->tick_room(room, mono(), wall()));
  evaluated(room);
}

/// When the clock alone changes something next: a delay ends, or a sample grows too old.
void Run::evaluated(std::size_t room) {
  const bool relay = site_->relay_energised(room) || script_.breakage == Breakage::relay_held;
  watches_[room].look(*site_, relay, air_[room], now_, outcome_.tally);
  for (const auto& complaint : watches_[room].complaints) complain(complaint);
  const bool has_gas = gas_of_[room] != nullptr;
  if (has_gas) gas_evaluated(*gas_of_[room]);
  const auto pause = watches_[room].is_undisturbed(now_) ? longest_pause : pause_if_disturbed;
  Monotonic due = now_ + (has_gas ? longest_pause_with_gas : pause);
  if (const auto by_alarms = site_->alarms_due(room, mono()))
    due = std::min(due, *by_alarms == Monotonic::min() ? now_ : *by_alarms - clock_origin_);
  const auto& sensors = settings_.rooms[room].sensors;
  for (std::size_t s = 0; s < sensors.size(); ++s) {
    const auto old = std::max(rooms_[room].taken[s], started_) + daemon::permitted_age(sensors[s].every) + 1ms;
    if (old > now_) due = std::min(due, old);
  }
  rooms_[room].tick = next_beat(std::max(due, now_ + 1ms));
}

void Run::tick_soon(std::size_t room) { rooms_[room].tick = std::min(rooms_[room].tick, next_beat(now_ + 1ms)); }

} // namespace oxherd::drill
