#pragma once

#include <optional>
#include <string>
#include <vector>

#include "control/conditions.hpp"
#include "control/duty.hpp"

namespace oxherd::control {

/// What the settings say of one actuator.
struct ActuatorRules {
  Duty duty = Duty::circulation;
  SafeState safe = SafeState::off;
  SwitchingTimes times{};
  std::vector<Condition> asked_for{};              ///< beyond the conditions of its duty
  Monotonic run_most{std::chrono::hours{24 * 30}}; ///< after so long a person has to start it anew (proposal)
  friend bool operator==(const ActuatorRules&, const ActuatorRules&) = default;
};

/// Who decides what an actuator does; the first that has a word.
enum class Decider {
  interlock,  ///< something that must hold does not, or a safety alarm asks for air
  safe_state, ///< its loop cannot measure what it holds
  person,     ///< a manual override
  loop,
  rest ///< nothing asks for anything
};
[[nodiscard]] std::string_view name_of(Decider decider);

/// A person holds an actuator at an output for a time.
struct Override {
  double output = 0.0; ///< 0 to 1
  std::string by, because;
  Monotonic until{0};
  Monotonic since{0};
  friend bool operator==(const Override&, const Override&) = default;
};

/// A person lets a purge or a scrubber work until something ends it.
struct StartedRun {
  std::string by, because;
  Monotonic since{0};
  friend bool operator==(const StartedRun&, const StartedRun&) = default;
};

/// What ended a run or a dosing, until a person releases it.
struct Trip {
  Monotonic since{0};
  std::string because;
  friend bool operator==(const Trip&, const Trip&) = default;
};

/// What the loop of an actuator wants. Without an output its input cannot be used.
struct Wish {
  std::optional<double> output;
  std::string because;
};

/// What holds of the whole room.
struct Situation {
  bool monitored = false;
  bool safety_alarm = true;
  bool people_may_be_in = true;
};

struct ActuatorState {
  bool asked = false;  ///< somebody or something but for an interlock wants it to work
  double output = 0.0; ///< decided last, before its switch
  Decider by = Decider::rest;
  std::string because{}; ///< in words for a person
  std::vector<Block> blocks{};
  std::optional<Monotonic> on_since{}; ///< without a break
  std::optional<Override> override_{};
  std::optional<StartedRun> run{};
  std::optional<Trip> trip{};
  friend bool operator==(const ActuatorState&, const ActuatorState&) = default;
};

/// What is worth a line in the journal.
enum class ActuatorEvent { run_ended, override_ended, tripped, blocked, free_again };
[[nodiscard]] std::string_view name_of(ActuatorEvent event);
[[nodiscard]] std::string_view words_of(ActuatorEvent event); ///< behind the name of the actuator: "was stopped ..."
struct ActuatorNews {
  ActuatorEvent event = ActuatorEvent::blocked;
  std::string because;
};

/// One evaluation: what ends ends, interlocks go before persons, persons before loops.
/// The output is 0 whenever a condition of its duty does not hold, and 1 for what airs a room in which a safety alarm
/// stands and people may be. `facts` need not say what the actuator knows of itself: started, tripped, how long on.
/// @param urgent  set when the output follows from an interlock or a safe state: least switching times do not count
/// @checked tests/control/actuator_test.cpp over every combination
struct ActuatorStep {
  ActuatorState state;
  bool urgent = false;
  std::vector<ActuatorNews> news;
};
[[nodiscard]] ActuatorStep next(const ActuatorRules& rules, ActuatorState state, const Situation& situation,
                                Facts facts, const std::optional<Wish>& wish, Monotonic now);

/// What a person may do to an actuator.
enum class ActuatorAct {
  start,     ///< lets a purge or scrubber work
  end,       ///< ends the run
  hold,      ///< manual override
  automatic, ///< ends the override
  release    ///< what tripped may work again
};
[[nodiscard]] std::string_view name_of(ActuatorAct act);
struct ActuatorOrder {
  ActuatorAct act = ActuatorAct::end;
  std::string by, because;
  double output = 0.0;   ///< of hold
  Monotonic duration{0}; ///< of hold
};
[[nodiscard]] std::string words_of(const ActuatorOrder& order); ///< "held at 100 % for 30 min"
/// Longest override; whoever needs it longer has to say so again.
inline constexpr Monotonic hold_at_most{std::chrono::hours{8}};
/// Does what a person asks, or says why not; the state is as before then. The next evaluation decides what comes of it.
/// @param facts, situation  as of the last evaluation
struct Ordered {
  ActuatorState state;
  std::string refusal; ///< empty: done
};
[[nodiscard]] Ordered order(const ActuatorRules& rules, ActuatorState state, const Facts& facts,
                            const ActuatorOrder& asked, Monotonic now);

/// Blocks in one sentence: "the door is open; oxygen is not measured".
[[nodiscard]] std::string sentence_of(const std::vector<Block>& blocks);

} // namespace oxherd::control
