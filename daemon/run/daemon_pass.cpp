// The daemon's pass over all rooms, every quarter of a second: what the clock alone decides, and what is due besides.
#include <utility> // before Asio: std::exchange

#include <boost/asio/post.hpp>

#include "daemon/clock.hpp"
#include "daemon/log.hpp"
#include "daemon/run/daemon.hpp"

namespace oxherd::daemon {
namespace {

namespace asio = boost::asio;

constexpr std::chrono::milliseconds beat_period{250};
/// Samples that came in meanwhile are judged between slices: a thousand rooms take many milliseconds, and no relay may
/// wait for that.
constexpr std::chrono::microseconds slice{100};
/// In which each room is reported once though nothing of it changed: every 10 s, and not all in the same pass.
constexpr std::uint64_t passes_per_report = 40;
/// Its air is told once a second: people look at it.
constexpr std::uint64_t passes_per_level = 4;

} // namespace

void Daemon::begin_pass() {
  const auto now = monotonic_now();
  note_clock_step(now, wall_now());
  const auto found = outputs_.found(now);
  for (std::size_t r = 0; r < found.size(); ++r) site_.set_outputs_found(r, found[r]);
  next_room_ = 0;
  pass_slice();
}

void Daemon::pass_slice() {
  const auto until = std::chrono::steady_clock::now() + slice;
  while (next_room_ < site_.settings().rooms.size()) {
    const auto room = next_room_++;
    const auto outcome = site_.tick_room(room, monotonic_now(), wall_now());
    if (!outcome.rooms_changed.empty()) {
      drive_outputs(std::chrono::steady_clock::now()); // before anything is told about it
      record(outcome);
    } else if ((site_.evaluations() + room) % passes_per_report == 0) {
      tell_untold();
      report_room(room, monotonic_now(), wall_now());
    } else if ((site_.evaluations() + room) % passes_per_level == 0) {
      const auto level = site_.level(room, wall_now());
      for (auto* sink : sinks_.all()) sink->level(level);
    }
    if (std::chrono::steady_clock::now() >= until) return asio::post(loop_, [this] { pass_slice(); });
  }
  end_pass();
}

void Daemon::end_pass() {
  const auto now = monotonic_now();
  const auto wall = wall_now();
  tell_untold();
  site_.complete_evaluation();
  for (const auto& note : outputs_.end_proofs(site_, now)) note_proof(note, wall);
  drive_outputs(std::chrono::steady_clock::now()); // patterns of horns and beacons
  for (auto* sink : sinks_.all()) sink->evaluated(site_.evaluations(), now, wall);
  if (now >= next_review_) review_cells();
  if (now >= next_keeping_) keep_programs();
  say_daily_caution(now);
  for (const auto& name : desk_.expire(site_, now))
    log::warning("the calibration of {} was left alone and is cancelled: nothing was recorded", name);
  ++beats_;
  // On one grid of the clock, so that the patterns of horns and beacons keep their times; missed beats are skipped.
  beat_.expires_at(std::chrono::steady_clock::time_point{now + beat_period - now % beat_period});
  beat_.async_wait([this](boost::system::error_code ec) {
    if (!ec) begin_pass();
  });
}

} // namespace oxherd::daemon
