#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "daemon/rehearse/sample.hpp"
#include "daemon/room/monitoring.hpp"
#include "daemon/room/room_alarms.hpp"

namespace oxherd::daemon::rehearse {

/// How the people of a rehearsal behave, and how time goes by.
struct Conduct {
  /// So long after an alarm asked for a person it is acknowledged, and a latched one is reset as soon as that can be.
  /// Empty: nobody ever does anything. Default: a proposal of the project.
  std::optional<Monotonic> acknowledge_after{std::chrono::minutes{5}};
  /// That every room is in all the time, its doors closed. Empty: each in that of its settings.
  std::optional<alarms::Regime> regime{};
  bool every_tick = false; ///< evaluates at each tick, needed or not: slow, for tests of what is left out
};

/// Ticks of the clock, as the daemon's.
inline constexpr Monotonic tick_period{500};
/// Who acts in a rehearsal, as the journal names it.
inline constexpr std::string_view rehearsal_author = "rehearsal";

/// The alarms of one room over recorded samples, on a clock that the samples move. It is the room's live code that
/// judges: the same samples at the same times give the transitions that the daemon would have journaled. Ticks that
/// could change nothing are left out.
/// @checked tests/daemon/rehearse/room_rehearsal_test.cpp; tests/simulation/rehearse_test.cpp, beside the daemon's Site
class RoomRehearsal {
public:
  /// @param room  its sensors are those of the data, in the order in which the data's channels vote
  /// @param start  of the data; ages and ticks count from it
  RoomRehearsal(config::Room room, const config::Site& site, const Conduct& conduct, WallTime start);

  /// Samples taken at one time. Times never go backwards; `channel` counts the room's sensors.
  void take(WallTime at, std::span<const Sample> samples);
  /// Lets time pass to the end of the data.
  void finish(WallTime at);

  [[nodiscard]] const std::vector<AlarmRecord>& journal() const { return journal_; }
  [[nodiscard]] const config::Room& room() const { return room_; }
  [[nodiscard]] std::uint64_t evaluations() const { return evaluations_; }

private:
  struct ChannelState {
    Monotonic permitted_age{0};
    bool answered = false; ///< has had a sample
    bool stale = false;    ///< its last sample has grown too old
  };

  [[nodiscard]] Monotonic since_start(WallTime at) const;
  void put(const Sample& sample, Monotonic now);
  std::optional<Monotonic> let_pass_until(Monotonic end);
  void age(Monotonic now);
  void evaluate(bool new_sample, Monotonic now);
  [[nodiscard]] std::optional<Monotonic> due() const;
  [[nodiscard]] std::optional<Monotonic> next_act() const;
  void act_at(Monotonic now);
  void act(std::size_t alarm, alarms::Act what, Monotonic now);
  void note(AlarmOutcome outcome, Monotonic now);

  config::Room room_;
  Conduct conduct_;
  WallTime start_;
  RoomAlarms alarms_;
  std::vector<std::optional<GasReading>> gas_; ///< by sensor
  std::vector<ChannelState> channels_;
  std::vector<std::optional<Monotonic>> owed_; ///< by alarm: since when it asks for a person
  std::vector<bool> to_reset_;                 ///< by alarm
  Monotonic evaluated_{0}, ticked_{0};
  bool changed_ = false; ///< the last evaluation changed something, which the next one may see
  std::vector<AlarmRecord> journal_;
  std::uint64_t evaluations_ = 0;
};

} // namespace oxherd::daemon::rehearse
