#pragma once

#include <array>
#include <string>
#include <vector>

#include "daemon/room/site.hpp"
#include "tests/simulation/drill/site_plan.hpp"
#include "tests/simulation/drill/tally.hpp"

namespace oxherd::drill {

/// Holds what the daemon does with the gas valve of one room against the truth, at every step.
///
/// Never against its interlock: while what must hold does not hold in truth, for longer than a poll can take to show
/// it, the valve is not commanded open; and for longer than a write, the module's own time-out and a valve that is late
/// can take beyond that, it is not open, but where it was made to be stuck. Never commanded open either with what the
/// daemon itself says to stand in its way, or with an alarm that warns of the room's air.
///
/// Never stuck in silence: a valve that is open against its order is announced, where its coil or a contact can show
/// it.
///
/// Never without a cause: neither a lost output nor a stopped gas is announced unless something befell the room.
class GasWatch {
public:
  GasWatch(const RoomPlan& plan, std::size_t room);

  /// What is true at a step.
  struct Truth {
    bool door_open = false, people_in = false;
    bool door_lies = false, people_lie = false, carbon_dioxide_lies = false; ///< their contact, or probe
    bool sealed = false;       ///< by a person's word, and no opening since that a contact had the time to show
    bool run_ordered = false;  ///< a person has started the purge of this daemon, and nothing has ended it
    bool tripped = false;      ///< and no person has released it
    bool cells_answer = true;  ///< every oxygen cell
    bool low = false;          ///< oxygen is below the limit
    bool suffers = false;      ///< something reaches what its devices say, or did a moment ago
    bool faulty = false;       ///< likewise what its module holds, or its valve does
    bool disturbed = false;    ///< doors, leaks: oxygen need not fall as it should
    double carbon_dioxide = 0; ///< ratio
    bool device_answers = true;
    bool commanded = false, open = false, stuck = false;
    bool stuck_shows = false; ///< the coil stands against its order, or a contact follows the valve
    double valve_late_s = 0.0;
  };
  /// After every evaluation of the room.
  void look(const daemon::Site& site, const Truth& truth, Monotonic now, Tally& tally);
  /// With no daemon: what is open then.
  void look_at_needs(const Truth& truth, Monotonic now);
  /// A person has said what regime the room has: a cause, of which the next evaluation learns.
  void person_said(Monotonic now) { cause_until_s_ = alarms::seconds_of(now); }
  /// The daemon has been started. Settings that are read anew excuse nothing.
  void started(Monotonic now) {
    started_s_ = alarms::seconds_of(now);
    was_commanded_ = false;
  }
  /// A safety alarm of the room has been announced, which stops its gas.
  void alarmed(Monotonic now) { cause_until_s_ = alarms::seconds_of(now); }
  /// What was announced of the valve or its output.
  void announced(const daemon::AlarmRecord& record, Monotonic now, Tally& tally);
  /// How much later than the truth a contact of the room is known at the latest.
  [[nodiscard]] double contact_shows_s(bool suffers) const;

  std::vector<std::string> complaints;

private:
  struct Need {
    const char* what;
    bool holds;
    double shows_s; ///< so much later it is known at the latest
  };
  static constexpr std::size_t needs_most = 8;
  /// In one order; what the room does not need holds.
  [[nodiscard]] std::array<Need, needs_most> needs(const Truth& truth) const;
  void look_at_stuck(const daemon::Site& site, const Truth& truth, double now_s, Tally& tally);
  void count(const Truth& truth, double now_s, Tally& tally);
  void note_causes(const Truth& truth, bool alarm_stands, double now_s);

  const RoomPlan& plan_;
  std::size_t room_;
  double started_s_ = -1e9;
  std::array<double, needs_most> lacking_since_s_; ///< NAN: it does not lack
  double stuck_since_s_;                           ///< open against its order, and it shows; NAN: it is not
  double fault_until_s_ = -1e9, cause_until_s_ = -1e9;
  bool was_open_ = false, was_commanded_ = false, stuck_told_ = false;
  bool was_run_ = false;
  bool disturbed_in_run_ = false; ///< since a person started the last one
};

} // namespace oxherd::drill
