#pragma once

#include <memory>
#include <optional>

#include "daemon/room/site.hpp"
#include "daemon/store/writer.hpp"
#include "tests/simulation/drill/measurement_watch.hpp"
#include "tests/simulation/drill/simulated_disk.hpp"

namespace oxherd::drill {

using alarms::Monotonic;

/// The daemon's own writer of records, with its turns taken on the simulated clock instead of by its thread.
class SimulatedRecords {
public:
  /// @param keeps_measurements  or only the journal, which takes a fifth of the time
  SimulatedRecords(SimulatedDisk& disk, bool keeps_measurements);

  /// As a start of the daemon: opens and reads back. Why it cannot start, empty: it has.
  [[nodiscard]] std::string start(daemon::WallTime now);
  /// The program is gone, without another word to the disk.
  void leave();

  void keep(const daemon::Outcome& outcome, Monotonic now);
  /// Takes the turn that is due, and keeps house.
  /// @param on_the_machine  what its clocks show, of which one is set now and then
  void work(Monotonic now, const daemon::store::Moment& on_the_machine);
  void poke(Monotonic now); ///< the state of the disk has changed
  [[nodiscard]] std::optional<Monotonic> due() const;
  /// How long the disk takes for one transaction.
  Monotonic takes{0};

  [[nodiscard]] const daemon::Remembered& remembered() const { return writer_->remembered(); }
  [[nodiscard]] bool lines_written() const { return lines_waiting_ == 0; }
  std::optional<MeasurementWatch> measurements; ///< where they are kept
  bool loses_a_reading = false;                 ///< for a breakage: the next one

private:
  void hand(const daemon::Outcome& outcome);

  SimulatedDisk& disk_;
  std::uint64_t lines_waiting_ = 0;
  std::shared_ptr<daemon::store::Writer> writer_;
  std::optional<Monotonic> due_;
};

} // namespace oxherd::drill
