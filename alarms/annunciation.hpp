#pragma once

#include <chrono>
#include <optional>
#include <string>
#include <string_view>

#include <tl/expected.hpp>

#include "alarms/time.hpp"

namespace oxherd::alarms {

/// The states of IEC 62682 / ISA-18.2. `shelved`, `suppressed_by_design` and `out_of_service` lie over the others:
/// evaluation goes on beneath and a condition still present when the last of them ends is annunciated anew.
/// The letters are those of the usual state diagram; "condition" means decided, after its delay.
enum class State {
  normal,                            ///< A: no condition, nothing owed. Ended by the condition.
  unacknowledged,                    ///< B: condition present, nobody has said so. Ended by acknowledge or return.
  acknowledged,                      ///< C: condition present and seen. Ended by return or re-annunciation.
  returned_to_normal_unacknowledged, ///< D: condition gone, never seen. Ended by acknowledge or recurrence.
  latched_unacknowledged,            ///< E: latching, gone, never seen. Ended by acknowledge or recurrence.
  latched_acknowledged,              ///< F: latching, gone, seen. Ended by reset or recurrence.
  shelved,                           ///< G: a person hides it for a time. Ended by that time or by unshelving.
  suppressed_by_design,              ///< H: documented logic hides it. Ended by that logic.
  out_of_service                     ///< I: taken out for work. Ended by its time or by return to service.
};
[[nodiscard]] std::string_view name_of(State state); ///< exactly the enumerator's spelling
[[nodiscard]] std::optional<State> state_named(std::string_view name);

enum class Priority { low, medium, high, critical };
[[nodiscard]] std::string_view name_of(Priority priority);
[[nodiscard]] std::optional<Priority> priority_named(std::string_view name);

/// How an alarm is annunciated; constant per alarm.
struct Annunciation {
  Priority priority = Priority::high;
  bool safety = true;   ///< safety class: cannot be shelved nor suppressed by design; drives the alarm relay
  bool latching = true; ///< safety alarms latch by default (IEC 62682 practice)
  bool acknowledge_required = true;                     ///< false only for low priority
  Monotonic reannounce_after{std::chrono::minutes{15}}; ///< safety 15 min, process 60 min (proposal of the project)
  Monotonic shelve_at_most{std::chrono::hours{8}};
  Monotonic silence_for{std::chrono::minutes{10}};              ///< a longer one counts as `silence_at_most`
  Monotonic out_of_service_at_most{std::chrono::hours{24 * 7}}; ///< proposal of the project
  Monotonic test_at_most{std::chrono::minutes{10}};             ///< proposal of the project
};

/// No horn stays silent for longer than this, whatever the settings say.
inline constexpr Monotonic silence_at_most{std::chrono::minutes{10}};

/// Where one alarm stands. `beneath` is one of the first six states; `present` the decided condition, which is true
/// exactly in `unacknowledged` and `acknowledged`.
struct Standing {
  State beneath = State::normal;
  bool present = false;
  bool tripped_while_suppressed = false; ///< a latching alarm that came and went beneath a suppression
  std::optional<Monotonic> shelved_until;
  bool shelved_once = false; ///< shelving ends with the condition, too
  bool suppressed_by_design = false;
  std::optional<Monotonic> out_of_service_until;
  Monotonic since{0};                      ///< when the shown state was entered
  std::optional<Monotonic> silenced_until; ///< sound only, this occurrence only

  friend bool operator==(const Standing&, const Standing&) = default;
};

/// The state shown to a person: out_of_service before shelved before suppressed_by_design before what is beneath.
[[nodiscard]] State shown(const Standing& standing);
/// Whether the horn sounds for it: unacknowledged or latched_unacknowledged, not suppressed, not silenced.
[[nodiscard]] bool sounds(const Standing& standing, Monotonic now);
/// Whether it holds the de-energise-to-trip relay of its room dropped: beneath is B, C, E or F.
[[nodiscard]] bool drops_relay(const Standing& standing);

/// What a person can do to an alarm. The first three need nothing but a name; shelving, removal from service and a test
/// need a time as well, the first two of these also a reason.
enum class Act {
  acknowledge,
  silence,
  reset,
  shelve,
  shelve_once, ///< shelving that ends when the condition does
  unshelve,
  remove_from_service,
  return_to_service,
  test, ///< simulates the condition; see Simulation
  end_test
};
[[nodiscard]] std::string_view name_of(Act act); ///< exactly the enumerator's spelling
[[nodiscard]] std::optional<Act> act_named(std::string_view name);

struct Demand {
  Act act = Act::acknowledge;
  Monotonic duration{0};
  std::string_view reason{};
};

/// Why an act of a person was refused; the text says what to do instead.
struct Refusal {
  std::string text;
};

/// The decided condition appeared or ended. Both are harmless when nothing changes. A latching alarm latches even when
/// no acknowledgement is required (the safer of the two readings).
[[nodiscard]] Standing condition_appears(const Annunciation& a, Standing s, Monotonic now);
[[nodiscard]] Standing condition_ends(const Annunciation& a, Standing s, Monotonic now);
/// What the clock alone brings: re-annunciation, the end of shelving, of out-of-service and of silence. A time counts
/// as over at its last millisecond. Re-annunciation waits for an alarm that is shown as acknowledged: a suppressed one
/// is annunciated anew at the end of its suppression anyway.
[[nodiscard]] Standing pass_time(const Annunciation& a, Standing s, Monotonic now);

/// From B, D, E. What counts is the state shown: a suppressed alarm is neither acknowledged nor reset.
[[nodiscard]] tl::expected<Standing, Refusal> acknowledge(Standing s, Monotonic now);
/// From F only.
[[nodiscard]] tl::expected<Standing, Refusal> reset(Standing s, Monotonic now);
/// While it sounds; never changes the state.
[[nodiscard]] tl::expected<Standing, Refusal> silence(const Annunciation& a, Standing s, Monotonic now);

// The three suppressions are independent of each other. When the last one ends: condition present, `unacknowledged`;
// absent, `normal`, or where a latching alarm had tripped `latched_unacknowledged` or, if it was acknowledged before,
// `latched_acknowledged`.

/// Refused: safety class, no reason, no time or more than `shelve_at_most`, and while shelved already, since otherwise
/// the limit could be passed by shelving again and again. `once`: it also ends when the condition does.
[[nodiscard]] tl::expected<Standing, Refusal> shelve(const Annunciation& a, Standing s, Monotonic duration,
                                                     std::string_view reason, Monotonic now, bool once = false);
/// Refused when it is not shelved.
[[nodiscard]] tl::expected<Standing, Refusal> unshelve(const Annunciation& a, Standing s, Monotonic now);
/// Refused: safety class. Saying the same twice changes nothing, so that the logic may say it at every evaluation.
[[nodiscard]] tl::expected<Standing, Refusal> suppress_by_design(const Annunciation& a, Standing s, bool on,
                                                                 Monotonic now);
/// Refused: no reason, no time or more than `out_of_service_at_most`, and while out of service already.
[[nodiscard]] tl::expected<Standing, Refusal> remove_from_service(const Annunciation& a, Standing s, Monotonic duration,
                                                                  std::string_view reason, Monotonic now);
/// Refused when it is not out of service.
[[nodiscard]] tl::expected<Standing, Refusal> return_to_service(const Annunciation& a, Standing s, Monotonic now);

} // namespace oxherd::alarms
