#include <algorithm>
#include <csignal>
#include <utility>

#include <boost/asio/post.hpp>
#include <fmt/ranges.h>

#include "daemon/clock.hpp"
#include "daemon/log.hpp"
#include "daemon/run/daemon.hpp"

namespace oxherd::daemon {
namespace {

namespace asio = boost::asio;
using boost::system::error_code;

/// How long an orderly stop waits for the relays to confirm that they dropped.
constexpr std::chrono::milliseconds stop_patience{1500};

template <class Named> bool has(const std::vector<Named>& all, const std::string& name) {
  return std::any_of(all.begin(), all.end(), [&](const Named& one) { return one.name == name; });
}

/// Tells the sinks of the rooms and alarms that the next settings no longer have.
void announce_removed(const config::Settings& before, const config::Settings& next, const Sinks& sinks) {
  for (const auto& room : before.rooms) {
    const auto* kept = config::room_named(next.rooms, room.name);
    for (Sink* sink : sinks.all()) {
      if (kept == nullptr) sink->removed(room.name, {});
      for (const auto& alarm : room.alarms)
        if (kept == nullptr || !has(kept->alarms, alarm.name)) sink->removed(room.name, alarm.name);
    }
  }
}

/// Whether a reload must be refused, which is then said.
bool deletes_active_alarms(const Site& site, const config::Settings& next) {
  const auto missing = site.active_alarms_missing_from(next);
  if (!missing.empty())
    log::error("reload refused: it would delete active alarms ({}); the old settings go on", fmt::join(missing, ", "));
  return !missing.empty();
}

} // namespace

void Daemon::wait_for_signal() {
  signals_.async_wait([this](error_code ec, int signal) {
    if (ec) return;
    if (signal == SIGHUP)
      reload();
    else if (stopping_)
      loop_.stop(); // asked twice: at once
    else
      stop();
    wait_for_signal();
  });
}

void Daemon::reload() {
  if (stopping_) return;
  if (reloading_) {
    reload_again_ = true;
    return;
  }
  reloading_ = true;
  service_->reloading();
  log::info("reloading {}", config_file_.string());
  asio::post(aside_, [this] {
    auto loaded = config::load(config_file_, profile_dirs_);
    asio::post(loop_, [this, loaded = std::move(loaded)]() mutable {
      if (loaded) {
        for (const auto& warning : loaded->warnings) log::warning("{}", config::to_string(warning));
        return adopt(std::move(loaded->settings));
      }
      for (const auto& problem : loaded.error()) log::error("{}", config::to_string(problem));
      log::error("reload refused: {} problems; the old settings go on", loaded.error().size());
      finish_reload();
    });
  });
}

void Daemon::adopt(config::Settings next) {
  if (deletes_active_alarms(site_, next)) return finish_reload();
  if (next.site.name != site_.settings().site.name) {
    log::error("reload refused: the site's name cannot change while the daemon runs; the old settings go on");
    return finish_reload();
  }
  for (const auto& cell : calibrations_left_behind(site_.settings(), next))
    log::warning("{}: the cell has a new serial number, its calibration in the file is that of the old one: calibrate "
                 "the new cell before relying on it",
                 cell);
  Workers old;
  {
    const std::lock_guard lock{workers_mutex_};
    old.swap(workers_);
  }
  ++generation_; // what the old threads still post is ignored
  tell_untold(); // while its rooms are those of before
  // Stopping a bus thread may take one of its timeouts: that is waited for aside, while this loop goes on deciding.
  auto old_workers = std::make_shared<Workers>(std::move(old));
  auto old_sinks = std::make_shared<Sinks>(leaving(sinks_, site_.settings(), next));
  asio::post(aside_, [this, old_workers, old_sinks, next = std::move(next)]() mutable {
    old_workers->clear();
    *old_sinks = Sinks{};
    auto proofs = load_proofs(state_dir_, next);
    asio::post(loop_, [this, proofs = std::move(proofs), next = std::move(next)]() mutable {
      const auto now = monotonic_now();
      const auto wall = wall_now();
      if (deletes_active_alarms(site_, next)) { // one came while the bus threads ended
        renew(sinks_, site_.settings(), state_dir_, for_others(), site_.last_line());
        announce_all(now, wall);
        start_buses();
        return finish_reload();
      }
      for (const auto& note : outputs_.abandon_proofs()) note_proof(note, wall); // while its rooms are those of before
      auto in_force = calibrations_in_force(next, calibration_records_, wall);
      Site site{std::move(next), in_force, now, wall};
      site.continue_from(site_, now, wall);
      renew(sinks_, site.settings(), state_dir_, for_others(), site.last_line());
      announce_removed(site_.settings(), site.settings(), sinks_);
      const auto left_behind = given_up(site_.settings(), site.settings());
      site_ = std::move(site);
      next_room_ = 0; // a pass that was under way begins anew with these rooms
      survey_.begin_anew();
      desk_.forget_all();
      OutputKeeper outputs{site_.settings()};
      outputs.continue_from(outputs_);
      outputs_ = std::move(outputs);
      proofs_ = std::move(proofs);
      record(site_.settle_regimes(wall));
      record(site_.announce_reload(now, wall));
      announce_all(now, wall);
      start_buses();
      drop(left_behind);
      review_cells();
      log::info("reloaded: watching {} rooms", site_.settings().rooms.size());
      finish_reload();
    });
  });
}

void Daemon::finish_reload() {
  reloading_ = false;
  service_->ready(fmt::format("watching {} rooms", site_.settings().rooms.size()));
  if (std::exchange(reload_again_, false)) reload();
}

void Daemon::stop() {
  log::info(
      "stopping: the alarm relays are dropped and actuators go to their safe state, because nothing watches the rooms "
      "from now on");
  stopping_ = true;
  keep_programs();
  service_->stopping();
  beat_.cancel();
  {
    const std::lock_guard lock{workers_mutex_};
    for (const auto& write : outputs_.trip_all(site_, std::chrono::steady_clock::now()))
      for (const auto& worker : workers_)
        if (worker->name() == write.bus) {
          trips_awaited_[write.what.output] = write.what.value;
          worker->write(write.what);
        }
  }
  if (trips_awaited_.empty()) return loop_.stop();
  stop_deadline_.expires_after(stop_patience);
  stop_deadline_.async_wait([this](error_code ec) {
    if (ec) return;
    log::warning("stopped without a confirmation of {} outputs", trips_awaited_.size());
    loop_.stop();
  });
}

} // namespace oxherd::daemon
