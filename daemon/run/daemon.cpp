#include "daemon/run/daemon.hpp"

#include <algorithm>
#include <csignal>
#include <utility>

#include <boost/asio/post.hpp>

#include "alarms/texts.hpp"
#include "daemon/clock.hpp"
#include "daemon/log.hpp"
#include "daemon/urgent_thread.hpp"

namespace oxherd::daemon {
namespace {

namespace asio = boost::asio;
using boost::system::error_code;

/// Delays end by the clock within half a second (the project's rule); a quarter leaves room.
constexpr std::chrono::hours caution_period{24};
constexpr std::chrono::milliseconds clock_step_noticed{1000};
/// So much of what polls brought may wait to be told: as many as come at once from a few buses.
constexpr std::size_t untold_max = 256;
/// Polls that may wait for the decision loop: twice all that can come at once, and some; beyond, the loop is stuck and
/// the watchdog will say so.
int posts_max(const config::Settings& settings) {
  std::size_t sensors = 0;
  for (const auto& room : settings.rooms) sensors += room.sensors.size();
  return 512 + 2 * static_cast<int>(sensors);
}

} // namespace

Daemon::Daemon(Parts parts)
    : config_file_{std::move(parts.config_file)}, state_dir_{std::move(parts.state_dir)},
      profile_dirs_{std::move(parts.profile_dirs)}, wording_{std::move(parts.wording)}, started_{wall_now()},
      store_{std::move(parts.store)}, calibration_records_{load_calibrations(*store_)},
      site_{parts.settings, calibrations_in_force(parts.settings, calibration_records_, started_), monotonic_now(),
            started_},
      outputs_{parts.settings}, proofs_{load_proofs(state_dir_, parts.settings)},
      users_noted_{load_users_noted(state_dir_, started_)} {
  const auto& remembered = store_->remembered();
  renew(sinks_, parts.settings, state_dir_, for_others(), remembered.last_sequence);
  const auto now = monotonic_now();
  site_.restore_regimes(remembered.regimes);
  for (const auto& orphan : site_.restore(remembered.alarms, remembered.last_sequence, now, started_))
    log::error("alarm {}/{} was active when the daemon last ran, but the configuration no longer has it", orphan.room,
               orphan.alarm);
  control_ = std::make_unique<ControlServer>(
      loop_, state_dir_ / "control.sock",
      [this](const std::string& line, const Peer& peer, Reply reply) { on_line(line, peer, std::move(reply)); });
  log::info("{}", alarms::caution_log());
  next_caution_ = now + caution_period;
  set_cell_reasons(cell_reasons(cells_in_use(site_.settings()), calibration_records_, started_));
  next_review_ = now + review_period;
  record(site_.settle_regimes(started_));
  record(site_.announce_restart(now, started_));
  restore_programs();
  record(site_.restore_control(load_control(state_dir_, site_.settings()), now, started_));
  announce_all(now, started_);
  start_buses();
  service_ = std::make_unique<ServiceManager>([this] { return progress(); });
}

Daemon::~Daemon() {
  service_.reset();
  workers_.clear(); // their threads may still post; nothing of that is run any more
  aside_.join();
  questions_.join();
  control_.reset();
}

void Daemon::run() {
  for (const int signal : {SIGTERM, SIGINT, SIGHUP}) signals_.add(signal);
  wait_for_signal();
  begin_pass();
  service_->ready("watching " + std::to_string(site_.settings().rooms.size()) + " rooms");
  log::info("watching {} rooms of {}", site_.settings().rooms.size(), site_.settings().site.name);
  if (!make_thread_urgent())
    log::info("decisions and relays wait for the machine's other work where it is busy: real-time priority is not "
              "permitted here (LimitRTPRIO=1 in a unit of systemd permits it)");
  loop_.run();
  tell_untold();
}

void Daemon::start_buses() {
  const auto generation = ++generation_;
  BusWorker::Callbacks callbacks;
  callbacks.polled = [this, generation, waiting = posts_waiting_, most = posts_max(site_.settings())](Poll poll) {
    if (waiting->load() >= most) {
      ++polls_dropped_;
      return;
    }
    ++*waiting;
    asio::post(loop_, [this, generation, waiting, poll = std::move(poll)] {
      --*waiting;
      if (generation == generation_) on_poll(poll);
    });
  };
  callbacks.written = [this, generation](WriteResult result) {
    asio::post(loop_, [this, generation, result = std::move(result)] {
      if (generation == generation_) on_written(result);
    });
  };
  auto workers = start_workers(site_.settings(), callbacks);
  const std::lock_guard lock{workers_mutex_};
  workers_ = std::move(workers);
}

void Daemon::on_poll(const Poll& poll) {
  const auto& room = site_.settings().rooms[poll.sensor.room];
  const auto& sensor = room.sensors[poll.sensor.sensor];
  note_fault("sensor " + room.name + "/" + sensor.name, poll.error, log::Level::warning);
  const auto decided = std::chrono::steady_clock::now();
  auto outcome = site_.take(poll);
  drive_outputs(decided);
  desk_.note(site_, poll, outcome);
  tell_later(std::move(outcome));
}

void Daemon::tell_later(Outcome outcome) {
  untold_.push_back(std::move(outcome));
  while (!untold_.empty() && (posts_waiting_->load() == 0 || untold_.size() > untold_max)) tell_first();
}

void Daemon::tell_untold() {
  while (!untold_.empty()) tell_first();
}

void Daemon::tell_first() {
  const auto outcome = std::move(untold_.front());
  untold_.pop_front();
  tell(outcome);
}

void Daemon::record(const Outcome& outcome) {
  tell_untold();
  tell(outcome);
}

void Daemon::note_fault(const std::string& what, const std::optional<drivers::BusError>& error, log::Level level) {
  const auto line = faults_.note(what, error ? std::optional{error->detail} : std::nullopt);
  if (line) log::write(error ? level : log::Level::info, "{}", fmt::make_format_args(*line));
}

void Daemon::tell(const Outcome& outcome) {
  std::vector<Sink*> sinks = sinks_.all();
  sinks.insert(sinks.begin(), store_.get());
  for (auto* sink : sinks) {
    for_each_line(
        outcome, [&](const AlarmNews& news) { sink->alarm(news.record, news.snapshot, news.status); },
        [&](const AlarmRecord& event) { sink->room_event(event); });
    for (const auto& sample : outcome.samples) sink->sample(sample);
    for (const auto& reading : outcome.readings) sink->reading(reading);
  }
  for (const auto& [record, snapshot, status] : outcome.alarms)
    log::warning("alarm {}/{} {}: {} -> {}{}{}", record.room, record.alarm, record.event, alarms::name_of(record.from),
                 alarms::name_of(record.to), record.author.empty() ? "" : " by " + record.author,
                 record.text.empty() ? "" : ": " + record.text);
  for (const auto& event : outcome.room_events)
    log::warning("room {} {}{}: {}", event.room, event.event, event.author.empty() ? "" : " by " + event.author,
                 event.text);
  for (const auto room : outcome.rooms_changed) report_room(room, monotonic_now(), wall_now());
}

void Daemon::report_room(std::size_t room, Monotonic now, WallTime wall) {
  const auto status = site_.status(room, now, wall);
  for (auto* sink : sinks_.all()) sink->room(status);
}

void Daemon::note_clock_step(Monotonic now, WallTime wall) {
  const auto offset = wall.time_since_epoch() - now;
  if (wall_offset_ && std::chrono::abs(offset - *wall_offset_) > clock_step_noticed)
    log::warning("the wall clock stepped by {:+.1f} s; delays and ages are not affected",
                 std::chrono::duration<double>(offset - *wall_offset_).count());
  wall_offset_ = offset;
}

void Daemon::say_daily_caution(Monotonic now) {
  if (now < next_caution_) return;
  next_caution_ += caution_period;
  log::info("{}", alarms::caution_log());
}

void Daemon::announce_all(Monotonic now, WallTime wall) {
  tell_untold();
  for (std::size_t r = 0; r < site_.settings().rooms.size(); ++r) {
    const auto status = site_.status(r, now, wall);
    for (auto* sink : sinks_.all()) {
      for (const auto& alarm : status.alarms) sink->standing(alarm);
      sink->room(status);
    }
  }
}

std::vector<std::uint64_t> Daemon::progress() const {
  const std::lock_guard lock{workers_mutex_};
  std::vector<std::uint64_t> counters{beats_.load()};
  for (const auto& worker : workers_) counters.push_back(worker->progress());
  return counters;
}

} // namespace oxherd::daemon
