#include "tests/simulation/drill/simulated_records.hpp"

namespace oxherd::drill {
namespace {

using namespace std::chrono_literals;

/// Without waiting: turns are taken when there is something to do.
constexpr daemon::store::Pace at_once{.gather = 0ms, .retry = 0ms, .prune = 1h, .close = 0ms};
/// The daemon tries every second; whatever befalls the disk next is poked.
constexpr Monotonic retry = 300s;

} // namespace

std::string SimulatedRecords::start(daemon::WallTime now) {
  due_.reset();
  auto opened = daemon::store::Writer::open(disk_.path(), config::Store{}, at_once, now);
  if (!opened) return opened.error().what;
  writer_ = std::move(*opened);
  return {};
}

void SimulatedRecords::leave() {
  const auto state = std::exchange(disk_.state, SimulatedDisk::State::left);
  writer_.reset();
  due_.reset();
  disk_.state = state;
}

void SimulatedRecords::keep(const daemon::Outcome& outcome, Monotonic now) {
  daemon::for_each_line(
      outcome,
      [&](const daemon::AlarmNews& news) {
        writer_->queue().push(daemon::store::AlarmRow{news.record, news.snapshot});
      },
      [&](const daemon::AlarmRecord& event) {
        writer_->queue().push(daemon::store::AlarmRow{event, {}});
      });
  if (!outcome.alarms.empty() || !outcome.room_events.empty()) due_ = std::min(due_.value_or(now + takes), now + takes);
}

void SimulatedRecords::work(Monotonic now, const daemon::store::Moment& on_the_machine) {
  if (!due_ || *due_ > now) return;
  due_.reset();
  if (all_written()) return;
  static_cast<void>(writer_->turn());
  writer_->keep_house_when_due(on_the_machine);
  if (!all_written()) due_ = now + std::max(retry, takes);
}

void SimulatedRecords::poke(Monotonic now) {
  if (due_) due_ = std::min(*due_, now + takes);
}

std::optional<Monotonic> SimulatedRecords::due() const { return due_; }

} // namespace oxherd::drill
