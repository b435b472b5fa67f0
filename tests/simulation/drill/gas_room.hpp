#pragma once

#include <optional>
#include <span>
#include <vector>

#include "daemon/bus/output_write.hpp"
#include "daemon/outputs/output_keeper.hpp"
#include "tests/simulation/drill/gas_watch.hpp"
#include "tests/simulation/drill/simulated_valve.hpp"
#include "tests/simulation/drill/true_air.hpp"
#include "tests/simulation/drill/true_gas.hpp"

namespace oxherd::drill {

/// A room that a gas is let into, as it truly is: its valve, what is on the way to it, who is in, what was said of it.
class GasRoom {
public:
  GasRoom(const RoomPlan& plan, std::size_t room, std::size_t output);

  using Active = std::span<const Happening* const>;
  /// What befalls it has changed.
  void befall(Active active, Monotonic now);
  /// Lets time pass. `watched`: a daemon looks at its contacts.
  void advance_to(Monotonic now, bool watched);
  /// When something of it changes by itself, but for writes.
  [[nodiscard]] std::optional<Monotonic> due() const { return valve_.due(); }

  /// What its valve lets in, in changes of the room's air a second, of nitrogen and of air.
  void add_flows(double& nitrogen_per_s, double& air_per_s) const;

  // What the daemon hands to the bus, the newest value in place of one that waits; and what comes of it.
  void hand(const daemon::OutputWrite& write);
  [[nodiscard]] std::optional<Monotonic> write_due(Monotonic bus_free) const;
  struct Carried {
    std::optional<daemon::WriteResult> result; ///< absent: it is tried again before anything is told
    Monotonic took{0};
  };
  /// The write that waits goes to the module.
  [[nodiscard]] Carried carry(Monotonic now);
  std::vector<std::pair<Monotonic, daemon::WriteResult>> answers; ///< on their way

  void started(Monotonic now);           ///< the daemon
  void left();                           ///< it is gone, and what was on its way with it
  void bus_begun_anew();                 ///< its thread, and with it what was on its way
  void said(bool sealed, Monotonic now); ///< by a person
  void adopt(const daemon::RegimeStatement& regime);
  /// Whether what a restart read back agrees with what is known to be recorded; empty: it does.
  [[nodiscard]] std::string disagreement(const daemon::RegimeStatement& regime, bool tripped) const;

  [[nodiscard]] GasWatch::Truth truth(const TrueAir& air) const;
  [[nodiscard]] const TrueGas& gas() const { return gas_; }
  [[nodiscard]] bool flows() const { return valve_.is_open(); }
  [[nodiscard]] bool is_sealed() const { return sealed_ && !surely_broken_; }
  [[nodiscard]] bool is_sealed_by_person() const { return is_sealed() && by_person_; }

  const RoomPlan& plan;
  const std::size_t room, output;
  GasWatch watch;
  bool run_ordered = false, tripped = false; ///< by the journal
  bool commanded = false;                    ///< what was handed to the bus last
  const Happening* purge = nullptr;          ///< during which people try to
  std::optional<Monotonic> next_try;
  /// For a breakage: the module says that it holds what it was told.
  bool lies = false;

private:
  [[nodiscard]] bool tells_of_people() const;
  [[nodiscard]] bool is_stuck(std::size_t sensor) const;
  [[nodiscard]] daemon::WriteResult no_reply(const daemon::OutputWrite& write) const;

  SimulatedValve valve_;
  TrueGas gas_;
  std::vector<const Happening*> active_; ///< of this room
  std::optional<daemon::OutputWrite> waiting_;
  Monotonic left_alone_until_{0};
  bool sealed_, by_person_ = false, surely_broken_ = false;
  std::optional<Monotonic> seen_since_; ///< what breaks the seal is there, and its contact tells so
  double suffered_until_s_ = -1e9, stuck_until_s_ = -1e9, now_s_ = 0.0;
};

} // namespace oxherd::drill
