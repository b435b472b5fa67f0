// A week at Larkfield in some seconds: the simulated site, the decision core, store and packs for the broker on one
// simulated clock, to see whether memory stays flat and polls stay on their grid.
//
//   oxherd_bench_week DAYS SECONDS STATE_DIR     stops after so many seconds; prints one line of JSON
//
// Every sensor is polled each 5 s. Polls are late as those of a busy bus are: mostly by a few milliseconds, now and
// then by more than a period.
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <fstream>
#include <random>
#include <thread>
#include <vector>

#include <unistd.h>

#include "daemon/mqtt/outbox.hpp"
#include "daemon/mqtt/packer.hpp"
#include "daemon/room/site.hpp"
#include "daemon/store/store.hpp"
#include "drivers/poll.hpp"
#include "tests/simulation/site_reading.hpp"

namespace {

using namespace oxherd;
using namespace std::chrono_literals;
using std::chrono::milliseconds;

constexpr daemon::WallTime midnight{milliseconds{1'772'323'200'000}}; // 2026-03-01T00:00:00Z
constexpr milliseconds beat{2500};
constexpr drivers::Schedule schedule{5000ms, 30s};

double resident_MiB() {
  std::ifstream statm{"/proc/self/statm"};
  double size = 0, resident = 0;
  statm >> size >> resident;
  return resident * static_cast<double>(::sysconf(_SC_PAGESIZE)) / 1048576.0;
}

/// One sensor's place on its grid.
struct Task {
  daemon::SensorRef at;
  milliseconds phase;
  drivers::ScheduleState state;
};

class Week {
public:
  explicit Week(const char* state_dir)
      : site_{simulation::larkfield_settings(simulation::Scenario::watched),
              simulation::file_calibrations(simulation::larkfield_settings(simulation::Scenario::watched)), 0ms,
              midnight} {
    auto opened = daemon::Store::open(state_dir, {});
    if (!opened) std::exit(1);
    store_ = std::move(*opened);
    const auto& rooms = site_.settings().rooms;
    for (std::size_t r = 0; r < rooms.size(); ++r)
      for (std::size_t s = 0; s < rooms[r].sensors.size(); ++s) {
        const milliseconds phase{137 * static_cast<int>(tasks_.size())};
        tasks_.push_back({{r, s}, phase, {phase, 0}});
      }
  }

  void run(milliseconds length, std::chrono::steady_clock::time_point end) {
    for (auto now = beat; now <= length && std::chrono::steady_clock::now() < end; now += beat) {
      world_.advance(beat);
      for (auto& task : tasks_)
        if (task.state.due <= now) poll(task, now);
      take(site_.tick(now, midnight + now));
      packer_.take_due(now, packs_);
      for (auto& pack : packs_) outbox_.measurement(pack.room + "/" + pack.sensor, std::move(pack.payload));
      packs_.clear();
      done_ = now;
      if (now % 1h < beat) {
        while (store_->health().waiting > 1000) std::this_thread::sleep_for(1ms); // its thread has a clock of its own
        resident_.push_back(resident_MiB());
      }
    }
  }

  void tell() const {
    std::printf(
        "{\"days\": %.3f, \"polls\": %ld, \"off_the_grid\": %ld, \"late_by_a_period\": %ld, \"resident_MiB\": [",
        std::chrono::duration<double, std::ratio<86400>>(done_).count(), polls_, off_, skipped_);
    for (std::size_t i = 0; i < resident_.size(); ++i) std::printf("%s%.3f", i == 0 ? "" : ", ", resident_[i]);
    std::printf("]}\n");
  }

private:
  void poll(Task& task, milliseconds now) {
    const bool held_up = dice_() % 500 == 0;
    const auto ended = now + milliseconds{dice_() % 80} + (held_up ? milliseconds{dice_() % 12000} : 0ms);
    take(site_.take(simulation::poll_of(world_, site_.settings(), task.at, {now, midnight + now})));
    task.state = drivers::after_poll(schedule, task.state, true, ended);
    ++polls_;
    if (held_up) ++skipped_;
    if ((task.state.due - task.phase) % schedule.every != 0ms) ++off_;
  }

  void take(const daemon::Outcome& outcome) {
    for (const auto& sample : outcome.samples) store_->sample(sample);
    for (const auto& news : outcome.alarms) store_->alarm(news.record, news.snapshot, news.status);
    for (const auto& reading : outcome.readings) {
      store_->reading(reading);
      packer_.take(reading, done_, packs_);
    }
  }

  demo::Site world_{1};
  daemon::Site site_;
  std::unique_ptr<daemon::Store> store_;
  daemon::Packer packer_{"larkfield", 5s};
  daemon::Outbox outbox_{{.measurements = 1000}}; ///< no broker: the oldest give way
  std::vector<daemon::Packer::Pack> packs_;
  std::vector<Task> tasks_;
  std::vector<double> resident_;
  std::mt19937 dice_{1};
  milliseconds done_{0};
  long polls_ = 0, off_ = 0, skipped_ = 0;
};

} // namespace

int main(int argc, char** argv) {
  if (argc != 4) {
    std::fputs("oxherd_bench_week DAYS SECONDS STATE_DIR\n", stderr);
    return 2;
  }
  Week week{argv[3]};
  week.run(std::chrono::hours{24 * std::atoi(argv[1])},
           std::chrono::steady_clock::now() + std::chrono::seconds{std::atoi(argv[2])});
  week.tell();
  return 0;
}
