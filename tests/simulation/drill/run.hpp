#pragma once

#include <deque>
#include <map>
#include <memory>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "tests/simulation/drill/bus_thread.hpp"
#include "tests/simulation/drill/drill.hpp"
#include "tests/simulation/drill/gas_room.hpp"
#include "tests/simulation/drill/simulated_broker.hpp"
#include "tests/simulation/drill/simulated_bus.hpp"
#include "tests/simulation/drill/simulated_records.hpp"
#include "tests/simulation/drill/watch.hpp"

namespace oxherd::drill {

/// One run of a script on the simulated clock: leaps from one time at which something is due to the next. What it is
/// made of lies in files of its own: what befalls the site in run_story.cpp, the daemon's life in run_daemon.cpp, what
/// people do in run_people.cpp, gases in run_gas.cpp, what is announced and what the records must tell in
/// run_announced.cpp.
class Run {
public:
  explicit Run(const Script& script);
  Outcome live();

private:
  struct Delivery {
    Monotonic at;
    daemon::Poll poll;
  };
  struct Room {
    Monotonic tick{0};
    std::vector<Monotonic> taken; ///< by sensor: the last sample that came; -1: none since the start
  };

  // run.cpp: the clock.
  [[nodiscard]] Monotonic mono() const { return now_ + clock_origin_; }
  [[nodiscard]] daemon::WallTime wall() const;
  [[nodiscard]] Monotonic next_time() const;
  void step();
  void poll_sensors();
  void deliver();
  [[nodiscard]] bool spoil(SimulatedBus::Brought& brought, daemon::SensorRef at) const;
  void take(daemon::Poll poll);
  void tick(std::size_t room);
  void evaluated(std::size_t room);
  void tick_soon(std::size_t room);
  void complain(const std::string& what);

  // run_story.cpp: what befalls the site.
  void turn_of_story();
  void begin(const Happening& h);
  void set_flows();
  void set_disk_and_broker();

  // run_daemon.cpp: the daemon's life.
  void start();
  void compare(const daemon::Remembered& remembered);
  void end(const Happening& h);
  void reload();
  void begin_schedule();

  // run_people.cpp
  void visit();
  void look_after(std::size_t room);
  void take_out_of_service(const Happening& h);

  // run_gas.cpp: rooms that a gas is let into, if there are any.
  void add_gas(std::size_t room);
  [[nodiscard]] std::optional<Monotonic> gas_due() const;
  void work_gas();
  void write_gas(GasRoom& gas);
  void befall_gas();
  void turn_gas(const Happening& h);
  void gas_evaluated(GasRoom& gas);
  void gas_started(bool all_known);
  void gas_reloaded();
  void gas_left();
  void note_gas(const daemon::AlarmRecord& line);
  void say_regime(GasRoom& gas, alarms::Regime regime);
  bool order_gas(GasRoom& gas, control::ActuatorAct act, Monotonic time = Monotonic{0});
  void try_to_let_in(GasRoom& gas);

  // run_announced.cpp: what is announced, and what the records tell of it.
  void keep(daemon::Outcome outcome);
  void note(const daemon::AlarmRecord& record);
  void note_line(const daemon::AlarmRecord& line);
  void note_air(const daemon::AlarmRecord& record);
  void note_written();
  void look_back();
  void look_at_chain(std::int64_t lines);
  void finish();

  const Script& script_;
  const std::shared_ptr<const config::Settings> shared_settings_; ///< with each site that is started
  const config::Settings& settings_;
  const daemon::Calibrations calibrations_;
  SimulatedDisk disk_;
  SimulatedBus bus_;
  SimulatedRecords records_;
  SimulatedBroker broker_;
  std::deque<TrueAir> air_;
  std::deque<RoomWatch> watches_;
  std::vector<Room> rooms_;
  std::vector<BusThread> threads_; ///< of each room: it has a bus of its own
  std::deque<GasRoom> gas_;
  std::vector<GasRoom*> gas_of_; ///< by room; null: none
  std::optional<daemon::OutputKeeper> outputs_;
  std::vector<Delivery> deliveries_;
  std::vector<Monotonic> edges_;
  std::vector<const Happening*> active_;
  std::size_t edge_ = 0;
  std::optional<daemon::Site> site_;
  Monotonic now_{0}, clock_origin_{0}, wall_offset_{0}, last_edge_{-1};
  Monotonic started_{0}, ended_{0}, restart_at_{0}, next_visit_{0};
  std::optional<Monotonic> next_reload_;
  std::map<std::string, alarms::State> told_; ///< what was said last of each alarm
  std::int64_t announced_to_ = 0, written_to_ = 0;
  int refused_in_a_row_ = 0; ///< starts
  bool damaged_ = false;
  Outcome outcome_;
};

/// The next time on the daemon's own grid of evaluations.
[[nodiscard]] Monotonic next_beat(Monotonic at);

} // namespace oxherd::drill
