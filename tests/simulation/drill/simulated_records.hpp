#pragma once

#include <memory>
#include <optional>

#include "daemon/room/site.hpp"
#include "daemon/store/writer.hpp"
#include "tests/simulation/drill/simulated_disk.hpp"

namespace oxherd::drill {

using alarms::Monotonic;

/// The daemon's own writer of records, with its turns taken on the simulated clock instead of by its thread.
class SimulatedRecords {
public:
  explicit SimulatedRecords(SimulatedDisk& disk) : disk_{disk} {}

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
  [[nodiscard]] bool all_written() const { return writer_->queue().waiting() == 0; }

private:
  SimulatedDisk& disk_;
  std::shared_ptr<daemon::store::Writer> writer_;
  std::optional<Monotonic> due_;
};

} // namespace oxherd::drill
