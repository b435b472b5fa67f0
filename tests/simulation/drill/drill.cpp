#include "tests/simulation/drill/drill.hpp"

#include <algorithm>
#include <cmath>
#include <deque>
#include <memory>

#include <fmt/core.h>

#include "daemon/store/history.hpp"
#include "tests/simulation/drill/simulated_broker.hpp"
#include "tests/simulation/drill/simulated_bus.hpp"
#include "tests/simulation/drill/simulated_records.hpp"
#include "tests/simulation/drill/watch.hpp"

namespace oxherd::drill {
namespace {

using namespace std::chrono_literals;
using alarms::State;
using daemon::WallTime;

/// The daemon's own grid.
constexpr Monotonic beat = 250ms;
/// Nothing else is due for longer than this: what grows without a sample, such as a lost probe's uncertainty.
constexpr Monotonic longest_pause = 60s;
constexpr WallTime first_day{std::chrono::milliseconds{1'773'129'600'000}}; // 2026-03-10T08:00:00Z

Monotonic next_beat(Monotonic at) { return (at + beat - 1ms) / beat * beat; }

daemon::Calibrations calibrations_of(const config::Settings& settings) {
  daemon::Calibrations all;
  for (const auto& room : settings.rooms)
    for (const auto& sensor : room.sensors)
      if (sensor.calibration)
        all[room.name + "/" + sensor.name] = {sensor.calibration->calibration, sensor.calibration->at};
  return all;
}

class Run {
public:
  explicit Run(const Script& script)
      : script_{script}, settings_{settings_of(script.site)}, calibrations_{calibrations_of(settings_)},
        bus_{script.site, settings_, script.seed}, records_{disk_}, broker_{disk_, script.seed} {
    for (std::size_t r = 0; r < script.site.rooms.size(); ++r) {
      const auto& plan = script.site.rooms[r];
      air_.emplace_back(plan);
      watches_.emplace_back(plan, r);
      rooms_.emplace_back();
      for (std::size_t s = 0; s < plan.sensors(); ++s) {
        const double every_s = s == plan.probe_at() ? plan.probe_every_s : plan.every_s;
        sensors_.push_back({{r, s}, ms_of(every_s), Monotonic{0}, Monotonic{-1}});
      }
    }
    for (const auto& h : script.story) {
      edges_.push_back(h.at);
      edges_.push_back(h.at + h.length);
    }
    std::sort(edges_.begin(), edges_.end());
    if (script.breakage == Breakage::message_lost) broker_.loses_every = 7;
  }

  Outcome live() {
    start();
    while (now_ < script_.length && outcome_.complaints.empty()) {
      const auto next = std::min(next_time(), script_.length);
      now_ = std::max(now_, next);
      step();
    }
    if (outcome_.complaints.empty()) look_back();
    finish();
    return std::move(outcome_);
  }

private:
  struct Sensor {
    daemon::SensorRef at;
    Monotonic every, next, taken; ///< taken: the last sample that came
  };
  struct Delivery {
    Monotonic at;
    daemon::Poll poll;
  };
  struct Room {
    Monotonic tick{0};
  };

  [[nodiscard]] Monotonic mono() const { return now_ + clock_origin_; }
  [[nodiscard]] WallTime wall() const { return first_day + now_ + wall_offset_; }

  void complain(const std::string& what) {
    outcome_.complaints.push_back(fmt::format("at {:.3f} s: {}", alarms::seconds_of(now_), what));
  }

  [[nodiscard]] Monotonic next_time() const {
    Monotonic next = script_.length;
    const auto consider = [&](Monotonic at) { next = std::min(next, at); };
    for (const auto& sensor : sensors_) consider(sensor.next);
    for (const auto& delivery : deliveries_) consider(delivery.at);
    if (edge_ < edges_.size()) consider(edges_[edge_]);
    if (site_) {
      for (const auto& room : rooms_) consider(room.tick);
      if (const auto due = records_.due()) consider(*due);
      if (const auto due = broker_.due()) consider(*due);
      consider(next_visit_);
      if (next_reload_) consider(*next_reload_);
    } else
      consider(restart_at_);
    return next;
  }

  void step() {
    if (edge_ < edges_.size() && edges_[edge_] <= now_) turn_of_story();
    if (!site_ && restart_at_ <= now_) start();
    poll_sensors();
    if (!site_) return;
    for (std::size_t i = 0; i < deliveries_.size();)
      if (deliveries_[i].at <= now_) {
        const auto poll = std::move(deliveries_[i].poll);
        deliveries_.erase(deliveries_.begin() + static_cast<std::ptrdiff_t>(i));
        take(poll);
      } else
        ++i;
    for (std::size_t r = 0; r < rooms_.size(); ++r)
      if (rooms_[r].tick <= now_) tick(r);
    if (next_reload_ && *next_reload_ <= now_) reload();
    if (next_visit_ <= now_) visit();
    records_.work(now_);
    broker_.work(now_);
  }

  // --- what befalls the site ---------------------------------------------------------------------------------------

  void turn_of_story() {
    for (auto& air : air_) air.advance_to(alarms::seconds_of(now_));
    for (; edge_ < edges_.size() && edges_[edge_] <= now_; ++edge_) {}
    active_.clear();
    for (const auto& h : script_.story) {
      if (h.at > now_) break;
      if (h.at > last_edge_) begin(h);
      if (h.kind == Kind::taken_out_of_service && h.at > last_edge_ && site_) take_out_of_service(h);
      if (h.holds(now_)) active_.push_back(&h);
    }
    last_edge_ = now_;
    set_flows();
    set_disk_and_broker();
    for (auto& watch : watches_) watch.note(active_, now_, site_.has_value());
  }

  void begin(const Happening& h) {
    ++outcome_.tally.befell[static_cast<std::size_t>(h.kind)];
    switch (h.kind) {
    case Kind::killed:
    case Kind::power_loss: end(h); break;
    case Kind::clock_forward: wall_offset_ += ms_of(h.size); break;
    case Kind::clock_back: wall_offset_ -= ms_of(h.size); break;
    case Kind::database_damaged:
      disk_.damage("journal.sqlite", h.salt);
      damaged_ = true;
      break;
    case Kind::reload_storm: next_reload_ = now_; break;
    default: break; // it lasts, see below
    }
  }

  void set_flows() {
    for (std::size_t r = 0; r < air_.size(); ++r) {
      double nitrogen_per_s = 0.0, air_per_s = script_.site.rooms[r].air_changes_h / 3600.0;
      for (const auto* h : active_) {
        if (h->room != r) continue;
        // So much that oxygen would end at `size` with the air that comes in anyway.
        if (h->kind == Kind::leak) nitrogen_per_s += air_per_s * (0.20946 / h->size - 1.0);
        if (h->kind == Kind::airing) air_per_s += (5.0 + 40.0 * h->size) / 3600.0;
      }
      air_[r].set_flows(nitrogen_per_s, air_per_s);
    }
  }

  void set_disk_and_broker() {
    disk_.state = SimulatedDisk::State::well;
    broker_.state = SimulatedBroker::State::well;
    records_.takes = Monotonic{0};
    bool storm = false;
    for (const auto* h : active_) switch (h->kind) {
      case Kind::disk_full: disk_.state = SimulatedDisk::State::full; break;
      case Kind::disk_read_only: disk_.state = SimulatedDisk::State::read_only; break;
      case Kind::disk_failing: disk_.state = SimulatedDisk::State::failing; break;
      case Kind::disk_slow: records_.takes = ms_of(1.0 + 300.0 * h->size); break;
      case Kind::broker_away: broker_.state = SimulatedBroker::State::away; break;
      case Kind::broker_silent: broker_.state = SimulatedBroker::State::silent; break;
      case Kind::broker_flaps: broker_.state = SimulatedBroker::State::flaps; break;
      case Kind::reload_storm: storm = true; break;
      default: break;
      }
    if (!storm) next_reload_.reset();
    broker_.poke(now_);
  }

  // --- the daemon's life -------------------------------------------------------------------------------------------

  void start() {
    if (const auto why = records_.start(wall()); !why.empty()) {
      ++outcome_.tally.starts_refused;
      restart_at_ = now_ + 2s;
      return;
    }
    outcome_.tally.down_room_s += alarms::seconds_of(now_ - ended_) * static_cast<double>(rooms_.size());
    started_ = now_;
    site_.emplace(settings_, calibrations_, mono(), wall());
    const bool forgets = script_.breakage == Breakage::alarm_forgotten;
    const auto remembered = forgets ? daemon::Remembered{} : records_.remembered();
    compare(remembered);
    site_->restore_regimes(remembered.regimes);
    for (const auto& orphan : site_->restore(remembered.alarms, remembered.last_sequence, mono(), wall()))
      complain("a restart does not know the alarm " + orphan.alarm);
    broker_.start(*site_, now_);
    keep(site_->settle_regimes(wall()));
    keep(site_->announce_restart(mono(), wall()));
    for (auto& sensor : sensors_) sensor.taken = Monotonic{-1};
    begin_schedule();
    for (auto& room : rooms_) room.tick = next_beat(now_);
    for (auto& watch : watches_) watch.note(active_, now_, true);
    next_visit_ = now_ + 20min;
  }

  /// What is read back is what was announced, for all that was written.
  void compare(const daemon::Remembered& remembered) {
    std::map<std::string, State> read;
    for (const auto& snapshot : remembered.alarms) read[snapshot.room + "/" + snapshot.alarm] = snapshot.shown;
    if (remembered.last_sequence < written_to_ && !damaged_)
      complain(fmt::format("line {} of the journal was written, and the last one read back is {}", written_to_,
                           remembered.last_sequence));
    if (remembered.last_sequence == announced_to_ && !damaged_)
      for (const auto& [alarm, state] : told_)
        if (state != (read.contains(alarm) ? read[alarm] : State::normal))
          complain(fmt::format("the journal has it that {} is {}, and what is read back is {}", alarm,
                               alarms::name_of(state),
                               alarms::name_of(read.contains(alarm) ? read[alarm] : State::normal)));
    told_ = std::move(read);
    announced_to_ = written_to_ = remembered.last_sequence;
  }

  void end(const Happening& h) {
    if (!site_) return;
    ++outcome_.tally.restarts;
    note_written();
    site_.reset();
    deliveries_.clear();
    records_.leave();
    broker_.leave();
    ended_ = now_;
    restart_at_ = now_ + h.length;
    if (h.kind != Kind::power_loss) return;
    disk_.lose_power(h.salt);
    clock_origin_ = -now_ - h.length + 20s; // the machine starts
  }

  void reload() {
    const auto before = std::move(*site_);
    site_.emplace(settings_, calibrations_, mono(), wall());
    site_->continue_from(before, mono(), wall());
    keep(site_->settle_regimes(wall()));
    keep(site_->announce_reload(mono(), wall()));
    begin_schedule();
    for (auto& room : rooms_) room.tick = next_beat(now_ + 1ms);
    next_reload_ = now_ + Monotonic{1000 + static_cast<int>(mixed(static_cast<std::uint64_t>(now_.count())) % 5000)};
  }

  /// New bus threads spread their polls over the period; each room has a bus of its own.
  void begin_schedule() {
    for (auto& sensor : sensors_)
      sensor.next = now_ + sensor.every * static_cast<int>(sensor.at.sensor) /
                               static_cast<int>(script_.site.rooms[sensor.at.room].sensors());
  }

  void poll_sensors() {
    for (auto& sensor : sensors_) {
      if (sensor.next > now_) continue;
      sensor.next += sensor.every;
      if (!site_) continue;
      const auto room = sensor.at.room;
      air_[room].advance_to(alarms::seconds_of(now_));
      auto brought = bus_.poll(sensor.at, air_[room], now_, active_);
      if (!brought || spoil(*brought, sensor.at)) continue;
      if (brought->after > 0ms)
        deliveries_.push_back({now_ + brought->after, std::move(brought->poll)});
      else
        take(std::move(brought->poll));
    }
  }

  /// Breakages of what comes in. True: nothing comes.
  bool spoil(SimulatedBus::Brought& brought, daemon::SensorRef at) const {
    const bool of_cell = at.sensor != script_.site.rooms[at.room].probe_at() && !brought.poll.error;
    if (script_.breakage == Breakage::a_minute_late) brought.after += 60s;
    if (script_.breakage == Breakage::alarm_without_cause && of_cell && now_ > 1h) {
      brought.poll.values[0].raw /= 2.0;
      brought.poll.values[0].si /= 2.0;
    }
    if (script_.breakage != Breakage::low_values_unjudged || !of_cell) return false;
    return air_[at.room].oxygen() < script_.site.rooms[at.room].limit + 0.01;
  }

  void take(daemon::Poll poll) {
    const auto at = poll.sensor;
    poll.at = mono();
    poll.wall = wall();
    ++outcome_.tally.polls;
    ++outcome_.tally.evaluations;
    air_[at.room].advance_to(alarms::seconds_of(now_));
    if (!poll.error)
      for (auto& sensor : sensors_)
        if (sensor.at == at) sensor.taken = now_;
    keep(site_->take(poll));
    evaluated(at.room);
  }

  void tick(std::size_t room) {
    ++outcome_.tally.evaluations;
    air_[room].advance_to(alarms::seconds_of(now_));
    keep(site_->tick_room(room, mono(), wall()));
    evaluated(room);
  }

  /// When the clock alone changes something next: a delay ends, or a sample grows too old.
  void evaluated(std::size_t room) {
    const bool relay = site_->relay_energised(room) || script_.breakage == Breakage::relay_held;
    watches_[room].look(*site_, relay, air_[room], now_, outcome_.tally);
    for (const auto& complaint : watches_[room].complaints) complain(complaint);
    Monotonic due = now_ + longest_pause;
    if (const auto by_alarms = site_->alarms_due(room, mono()))
      due = std::min(due, *by_alarms == Monotonic::min() ? now_ : *by_alarms - clock_origin_);
    for (const auto& sensor : sensors_) {
      if (sensor.at.room != room) continue;
      const auto old = std::max(sensor.taken, started_) + daemon::permitted_age(sensor.every) + 1ms;
      if (old > now_) due = std::min(due, old);
    }
    rooms_[room].tick = next_beat(std::max(due, now_ + 1ms));
  }

  // --- people ------------------------------------------------------------------------------------------------------

  void visit() {
    for (std::size_t r = 0; r < rooms_.size(); ++r)
      for (const auto& alarm : settings_.rooms[r].alarms)
        for (const auto act : {alarms::Act::acknowledge, alarms::Act::reset}) {
          if (site_->state_of(r, alarm.name) == State::normal) continue;
          const daemon::PersonAct person{act, "R. Okafor", "looked at", Monotonic{0}};
          if (const auto acted = site_->act(settings_.rooms[r].name, alarm.name, person, mono(), wall()))
            keep(acted->outcome);
        }
    for (auto& room : rooms_) room.tick = std::min(room.tick, next_beat(now_ + 1ms));
    const auto drawn = mixed(script_.seed ^ static_cast<std::uint64_t>(now_.count())) % 80;
    next_visit_ = now_ + std::chrono::minutes{10 + drawn};
  }

  void take_out_of_service(const Happening& h) {
    const daemon::PersonAct person{alarms::Act::remove_from_service, "R. Finch", "work on the dewars", h.length};
    if (const auto acted = site_->act(settings_.rooms[h.room].name, "low-oxygen", person, mono(), wall()))
      keep(acted->outcome);
    rooms_[h.room].tick = next_beat(now_ + 1ms);
  }

  // --- what is announced -------------------------------------------------------------------------------------------

  void keep(daemon::Outcome outcome) {
    if (script_.breakage == Breakage::line_lost && !outcome.alarms.empty() && outcome.alarms[0].record.sequence > 3) {
      outcome.alarms.clear();
    }
    for (const auto& news : outcome.alarms) note(news.record);
    records_.keep(outcome, now_);
    broker_.tell(outcome, now_);
    note_written();
  }

  void note(const daemon::AlarmRecord& record) {
    for (const char c : record.alarm + record.event + std::string{alarms::name_of(record.to)})
      outcome_.digest = mixed(outcome_.digest ^ static_cast<std::uint64_t>(c));
    outcome_.digest = mixed(outcome_.digest ^ static_cast<std::uint64_t>(now_.count()));
    if (record.sequence != announced_to_ + 1)
      complain(fmt::format("line {} of the journal follows line {}", record.sequence, announced_to_));
    announced_to_ = record.sequence;
    for (std::size_t r = 0; r < rooms_.size(); ++r)
      if (settings_.rooms[r].name == record.room) {
        watches_[r].announced(record, air_[r], now_, outcome_.tally);
        for (const auto& complaint : watches_[r].complaints) complain(complaint);
      }
    if (record.event == "transition-suppressed") return; // beneath what is shown
    auto& told = told_.try_emplace(record.room + "/" + record.alarm, State::normal).first->second;
    if (record.from != told)
      complain(fmt::format("line {} of {} ({}) begins at {}, and it was {}", record.sequence, record.alarm,
                           record.event, alarms::name_of(record.from), alarms::name_of(told)));
    told = record.to;
  }

  void note_written() {
    if (records_.all_written()) written_to_ = announced_to_;
  }

  /// At the end, all being well again for a while: the journal alone tells how every alarm stands, and whoever listens
  /// to the broker knows it too.
  void look_back() {
    if (!site_) return complain("the daemon does not run again although nothing stands in its way");
    records_.work(now_);
    broker_.work(now_);
    const auto lines = daemon::journal_after(disk_.path(), 0, 1'000'000);
    if (!lines) return complain("the journal cannot be read: " + lines.error().what);
    std::map<std::string, State> read;
    for (const auto& line : lines->records)
      if (line.event != "transition-suppressed") read[line.room + "/" + line.alarm] = line.to;
    for (std::size_t r = 0; r < rooms_.size(); ++r)
      for (const auto& alarm : settings_.rooms[r].alarms) {
        const auto name = settings_.rooms[r].name + "/" + alarm.name;
        const auto is = site_->state_of(r, alarm.name);
        const auto by_journal = read.contains(name) ? read[name] : State::normal;
        if (by_journal != is && !damaged_)
          complain(fmt::format("{} is {}, and its journal tells {}", name, alarms::name_of(is),
                               alarms::name_of(by_journal)));
        const auto topic = settings_.rooms[r].name + "/alarms/" + alarm.name;
        const auto found = broker_.received().retained.find(topic);
        if (found == broker_.received().retained.end() || found->second != alarms::name_of(is))
          complain(fmt::format("{} is {}, and the broker was told {}", name, alarms::name_of(is),
                               found == broker_.received().retained.end() ? "nothing" : found->second));
        // Air that recovers slowly may stand near the limit for hours; people come every hour and a half.
        if (is != State::normal && alarms::seconds_of(now_) - air_[r].near_limit_until_s() > 3.0 * 3600.0)
          complain(fmt::format("{} is {} although all has been well for long and people have been there", name,
                               alarms::name_of(is)));
      }
    for (const auto& line : lines->records)
      if (!damaged_ && !broker_.received().lines.contains(line.sequence))
        return complain(fmt::format("line {} of the journal never came to the broker", line.sequence));
  }

  void finish() {
    auto& tally = outcome_.tally;
    ++tally.runs;
    tally.room_s = alarms::seconds_of(now_) * static_cast<double>(rooms_.size());
    if (site_) {
      records_.leave();
      broker_.leave();
    }
  }

  const Script& script_;
  const config::Settings settings_;
  const daemon::Calibrations calibrations_;
  SimulatedDisk disk_;
  SimulatedBus bus_;
  SimulatedRecords records_;
  SimulatedBroker broker_;
  std::deque<TrueAir> air_;
  std::deque<RoomWatch> watches_;
  std::vector<Room> rooms_;
  std::vector<Sensor> sensors_;
  std::vector<Delivery> deliveries_;
  std::vector<Monotonic> edges_;
  std::vector<const Happening*> active_;
  std::size_t edge_ = 0;
  std::optional<daemon::Site> site_;
  Monotonic now_{0}, clock_origin_{0}, wall_offset_{0}, last_edge_{-1};
  Monotonic started_{0}, ended_{0}, restart_at_{0}, next_visit_{0};
  std::optional<Monotonic> next_reload_;
  std::map<std::string, State> told_; ///< what was said last of each alarm
  std::int64_t announced_to_ = 0, written_to_ = 0;
  bool damaged_ = false;
  Outcome outcome_;
};

} // namespace

Script drawn_script(std::uint64_t seed, double days) {
  Chance chance{mixed(seed)};
  Script script;
  script.seed = seed;
  script.site = drawn_site(chance);
  const double drawn_days = std::exp(chance.between(std::log(1.0), std::log(20.0)));
  script.length = ms_of(86400.0 * (days > 0.0 ? days : drawn_days));
  Stage stage;
  for (const auto& room : script.site.rooms) stage.sensors.push_back(room.sensors());
  stage.length = script.length;
  stage.density = std::exp(chance.between(std::log(0.5), std::log(20.0)));
  script.story = drawn_story(chance, stage);
  return script;
}

Outcome run(const Script& script) { return Run{script}.live(); }

} // namespace oxherd::drill
