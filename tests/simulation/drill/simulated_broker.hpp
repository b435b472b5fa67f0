#pragma once

#include <map>
#include <memory>
#include <set>
#include <string>

#include "daemon/mqtt/outbox.hpp"
#include "daemon/mqtt/spool_keeper.hpp"
#include "daemon/room/site.hpp"
#include "tests/simulation/drill/simulated_disk.hpp"

namespace oxherd::drill {

using alarms::Monotonic;

/// What a broker has got; it outlives the daemon.
struct Received {
  std::map<std::string, std::string> retained; ///< by topic
  std::set<std::int64_t> lines;                ///< of the journal, by sequence
  std::uint64_t measurements = 0;
};

/// The daemon's outbox and what it keeps on disk, with a broker at the other end of a bad line.
class SimulatedBroker {
public:
  enum class State {
    well,
    away,
    silent, ///< connects and takes messages, which come to nothing
    flaps   ///< drops the connection every few seconds; some of what it took it has
  };
  SimulatedBroker(SimulatedDisk& disk, std::uint64_t seed) : disk_{disk}, seed_{seed} {}
  State state = State::well;

  void start(const daemon::Site& site, Monotonic now); ///< of the daemon
  void leave();                                        ///< of the daemon, at once
  void tell(const daemon::Outcome& outcome, Monotonic now);
  /// Connects, hands over, and has the disk do what is due.
  void work(Monotonic now);
  [[nodiscard]] std::optional<Monotonic> due() const { return due_; }
  /// Lines are on the disk that were not there when it was asked last.
  void lines_written(Monotonic now);
  void poke(Monotonic now); ///< its state has changed, or that of the disk
  [[nodiscard]] const Received& received() const { return received_; }
  [[nodiscard]] bool all_sent() const { return outbox_->all_sent() && outbox_->journal_waiting() == 0; }

  /// For a breakage: every so many messages are acknowledged and thrown away.
  int loses_every = 0;

private:
  void pump(Monotonic now);
  void take_turns(Monotonic now);
  [[nodiscard]] std::optional<Monotonic> turn_due() const;
  void take(const daemon::Outgoing& message);
  [[nodiscard]] static std::string topic_of(const std::string& room, const std::string& alarm);

  SimulatedDisk& disk_;
  std::uint64_t seed_;
  std::optional<daemon::Outbox> outbox_;
  std::unique_ptr<daemon::SpoolKeeper> keeper_;
  Received received_;
  bool connected_ = false, lines_came_ = false;
  bool doubtful_ = false;                 ///< the connection took something that came to nothing
  Monotonic next_turn_{0}, last_turn_{0}; ///< of the disk
  Monotonic change_at_{0};                ///< of a connection that does not last
  std::optional<Monotonic> due_;
  std::uint64_t taken_ = 0;
};

} // namespace oxherd::drill
