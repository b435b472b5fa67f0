#include "tests/simulation/drill/simulated_records.hpp"

namespace oxherd::drill {
namespace {

using namespace std::chrono_literals;

/// Without waiting: turns are taken when there is something to do. What is rolled up must not depend on real time.
constexpr daemon::store::Pace at_once{.gather = 0ms, .retry = 0ms, .prune = 1h, .close = 0ms, .roll = 1h};
/// The daemon tries every second; whatever befalls the disk next is poked.
constexpr Monotonic retry = 300s;
/// The daemon gathers measurements for half a second, in which nothing of interest happens here.
constexpr Monotonic gather = 60s;

/// Small enough that it is full now and then. Nothing is deleted by age or for want of room: the machine's own disk is
/// beneath, and no clock that was set makes a row old.
config::Store settings() {
  config::Store store;
  store.queue_max = 2000;
  store.keep_free = 0.0;
  return store;
}

} // namespace

SimulatedRecords::SimulatedRecords(SimulatedDisk& disk, bool keeps_measurements) : disk_{disk} {
  if (keeps_measurements) measurements.emplace();
}

std::string SimulatedRecords::start(daemon::WallTime now) {
  due_.reset();
  auto opened = daemon::store::Writer::open(disk_.path(), settings(), at_once, now);
  if (!opened) return opened.error().what;
  writer_ = std::move(*opened);
  return {};
}

void SimulatedRecords::leave() {
  const auto state = std::exchange(disk_.state, SimulatedDisk::State::left);
  writer_.reset();
  due_.reset();
  lines_waiting_ = 0;
  if (measurements) measurements->left();
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
  const auto lines = outcome.alarms.size() + outcome.room_events.size();
  lines_waiting_ += lines;
  if (lines > 0) due_ = std::min(due_.value_or(now + takes), now + takes);
  if (!measurements) return;
  hand(outcome);
  if (!outcome.readings.empty() && !due_) due_ = now + gather + takes;
}

void SimulatedRecords::hand(const daemon::Outcome& outcome) {
  for (const auto& sample : outcome.samples) writer_->queue().push(daemon::store::MeasurementRow{sample});
  for (const auto& reading : outcome.readings)
    if (!std::exchange(loses_a_reading, false))
      writer_->queue().push(daemon::store::MeasurementRow{daemon::store::flattened(reading)});
  measurements->handed(outcome);
  measurements->gave_way(writer_->queue().dropped());
}

void SimulatedRecords::work(Monotonic now, const daemon::store::Moment& on_the_machine) {
  if (!due_ || *due_ > now) return;
  due_.reset();
  if (writer_->queue().waiting() == 0) return;
  static_cast<void>(writer_->turn());
  const bool lines_failed = writer_->health().trouble.find("journal.sqlite") != std::string::npos;
  if (!lines_failed) lines_waiting_ = 0;
  const auto waiting = writer_->queue().waiting();
  if (measurements) measurements->waiting(waiting - lines_waiting_);
  writer_->keep_house_when_due(on_the_machine);
  if (waiting > 0) due_ = now + std::max(retry, takes);
}

void SimulatedRecords::poke(Monotonic now) {
  if (due_) due_ = std::min(*due_, now + takes);
}

std::optional<Monotonic> SimulatedRecords::due() const { return due_; }

} // namespace oxherd::drill
