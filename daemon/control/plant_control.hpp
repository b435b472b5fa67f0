#pragma once

#include <functional>
#include <map>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "control/actuator.hpp"
#include "control/loops/switching.hpp"
#include "daemon/control/control_lines.hpp"
#include "daemon/control/facts.hpp"
#include "daemon/control/loop_run.hpp"
#include "daemon/control/program_file.hpp"
#include "daemon/control/purge_watch.hpp"

namespace oxherd::daemon {

/// One actuator as it stands, for answers.
struct ActuatorView {
  std::string name, room;
  control::Duty duty = control::Duty::circulation;
  const control::ActuatorState* state = nullptr;
  double driven = 0.0; ///< what its device is told, 0 to 1
  std::optional<control::HeldBack> held_back{};
  std::string forecast; ///< of a purge: how oxygen falls, in words
  const LoopRun* loop = nullptr;
};

/// Every actuator of the site with its loop: decides what each does. A value type without clock or I/O, used from the
/// decision thread only. A room is evaluated as a whole; what shares a group starts one after the other over the site.
class PlantControl {
public:
  PlantControl(const config::Settings& settings, Monotonic now);

  struct Result {
    std::vector<AlarmRecord> lines; ///< `sequence` is still 0
    bool changed = false;           ///< an actuator of the room does something else, or for another reason
  };
  using ProcessValues = std::function<ProcessReading(control::ProcessValue)>;
  [[nodiscard]] bool has_actuators(std::size_t room) const { return !by_room_[room].empty(); }
  /// One evaluation of one room: interlocks first, then persons, then loops.
  [[nodiscard]] Result evaluate(std::size_t room, const ControlView& view, const ProcessValues& values, Monotonic now,
                                WallTime wall);

  /// What the device of an actuator is to be told, 0 to 1; an unknown one is off.
  [[nodiscard]] double driven(const std::string& output) const;
  /// Which actuators of the room wait to be released, and after what; empty: none.
  [[nodiscard]] std::string trouble(std::size_t room) const;
  [[nodiscard]] std::vector<ActuatorView> view(std::size_t room) const;
  /// Whether its device confirms what it was told: false when it is lost, empty when that is not known yet.
  void set_confirmed(const std::string& output, std::optional<bool> confirmed);

  struct Acted {
    std::vector<AlarmRecord> lines;
    std::string refusal; ///< empty: done
  };
  /// A person's order to an actuator; in force at the next evaluation. Empty: there is none of that name.
  [[nodiscard]] std::optional<Acted> act(const std::string& output, const control::ActuatorOrder& order, Monotonic now,
                                         WallTime wall);
  /// A person's order to a loop; empty: there is no such loop.
  struct ProgramOrder {
    LoopRun::ProgramAct act = LoopRun::ProgramAct::resume;
    std::optional<Monotonic> duration{};
    std::string by, because;
  };
  /// Begins the report of the loop anew.
  struct ReportOrder {
    std::string by, because;
  };
  using LoopOrder = std::variant<ProgramOrder, TuningOrder, ReportOrder>;
  [[nodiscard]] std::optional<Acted> act(const std::string& room, const std::string& loop, const LoopOrder& order,
                                         Monotonic now, WallTime wall);

  /// Takes over what the journal remembers from before a restart. What ended with the last run has a line.
  [[nodiscard]] std::vector<AlarmRecord> restore(const std::vector<ControlRemembered>& remembered, Monotonic now,
                                                 WallTime wall);
  /// Takes over, over a reload, what has the same name, room, duty and place. Nothing that a reload brings starts by
  /// it: an actuator whose settings changed is off, has no run, and waits its least time.
  [[nodiscard]] std::vector<AlarmRecord> continue_from(const PlantControl& before, Monotonic now, WallTime wall);

  /// The programs that persons have started or hold.
  [[nodiscard]] std::vector<KeptProgram> kept_programs() const;
  /// Goes on with them after a start, each by its rule for outages.
  void restore(ReadPrograms read, Monotonic now);

private:
  struct One {
    std::string name;
    std::size_t room = 0;
    config::Actuator settings;
    control::ActuatorState state{};
    control::Facts facts{}; ///< of the last evaluation
    control::SwitchingState switching{};
    control::Want want{};
    std::optional<control::HeldBack> held_back{};
    double driven = 0.0;
    std::optional<bool> confirmed{};
    bool ever_confirmed = false;
    PurgeWatch purge{};
    std::string forecast{};
    std::optional<LoopRun> loop{};
  };
  void decide(One& one, const control::Facts& of_room, const ControlView& view, const ProcessValues& values,
              Monotonic now, WallTime wall, Result& result);
  void add_own_facts(One& one, const ControlView& view, Monotonic now, control::Facts& facts);
  void switch_all(std::size_t room, Monotonic now, Result& result);
  void take_switching(One& one, const control::SwitchingStep& step, Monotonic now, Result& result);
  /// A line that something of an actuator has ended.
  [[nodiscard]] AlarmRecord ended_record(const One& one, control::ActuatorEvent event, std::string_view because,
                                         WallTime wall) const;
  /// What an order to a loop came to: why it is refused, empty where it is done, and what to tell of it.
  struct LoopActed {
    std::string name, refusal, told{};
  };
  [[nodiscard]] static LoopActed act(One& one, const ProgramOrder& order, Monotonic now);
  [[nodiscard]] static LoopActed act(One& one, const TuningOrder& order, Monotonic now);
  [[nodiscard]] static LoopActed act(One& one, const ReportOrder& order, Monotonic now);
  /// Ends a running tuning experiment where anything but its loop decides, and tells of one that is over.
  static void watch_tuning(One& one, Monotonic now, WallTime wall, Result& result);
  [[nodiscard]] One* find(const std::string& output);

  std::vector<One> all_;                          ///< what airs or mixes a room first: others depend on it
  std::map<std::string, std::size_t> by_name_;    ///< places in `all_`
  std::vector<std::vector<std::size_t>> by_room_; ///< places in `all_`
  std::map<std::string, std::vector<std::size_t>> groups_;
  std::map<std::string, control::StaggerState> staggers_;
};

} // namespace oxherd::daemon
