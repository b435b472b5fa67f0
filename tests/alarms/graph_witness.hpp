#pragma once
// What somebody who watches an alarm writes down: how long each thing has lasted and what is still owed. Nothing here
// is taken from the alarm's own state, and from these facts alone the witness knows what the alarm must show.
#include <algorithm>

#include "alarms/annunciation.hpp"

namespace oxherd::alarms_graph_test {

/// The timers of the walked alarms, in ticks.
inline constexpr int on_delay = 2, off_delay = 2, reannounce_after = 3, shelve_at_most = 3, service_at_most = 3,
                     silence_for = 2, test_at_most = 4;
/// No age beyond the longest timer makes a difference.
inline constexpr int oldest = 4;
/// The age of what is not going on.
inline constexpr int none = -1;

enum class Sample { beyond, inside, clear, bad };

struct Witness {
  Sample sample = Sample::bad; ///< holds until the next one
  int beyond_for = none;       ///< since a sample beyond the limit, with none but such and bad ones after it
  int clear_for = none;        ///< since the first of an unbroken row of clear samples
  bool decided = false;        ///< the condition held for its on-delay and has not been clear for its off-delay since
  int test_for = none;         ///< since a person began the test
  int simulated_for = none;    ///< since the test was first evaluated
  bool test_over = false;      ///< a person ended it
  bool simulated = false;      ///< the test's condition has held for the on-delay
  bool owed = false;           ///< announced, and since then nobody has acknowledged it
  bool latched = false;        ///< a latching alarm has come and gone, and nobody has reset it
  int shown_for = 0;           ///< since what is shown became so
  int shelved_for = none;
  bool shelved_once = false;
  bool by_design = false;
  int out_for = none;
  int silent_for = none;
  bool in_force = true; ///< by the regime of its room; what is not in force judges nothing

  bool stands() const { return decided || simulated; }
  bool suppressed() const { return shelved_for != none || by_design || out_for != none; }

  /// The letter of the state that has to be shown.
  char letter() const {
    if (out_for != none) return 'I';
    if (shelved_for != none) return 'G';
    if (by_design) return 'H';
    if (stands()) return owed ? 'B' : 'C';
    if (latched) return owed ? 'E' : 'F';
    return owed ? 'D' : 'A';
  }
  bool sounds() const { return (letter() == 'B' || letter() == 'E') && silent_for == none; }

  void time_passes(int ticks) {
    for (int* age :
         {&beyond_for, &clear_for, &test_for, &simulated_for, &shown_for, &shelved_for, &out_for, &silent_for})
      if (*age != none) *age = std::min(*age + ticks, oldest);
  }

  void sampled(Sample s) {
    sample = s;
    if (s == Sample::beyond && beyond_for == none) beyond_for = 0;
    if (s == Sample::inside || s == Sample::clear) beyond_for = none;
    if (s != Sample::clear) clear_for = none;
    if (s == Sample::clear && clear_for == none) clear_for = 0;
  }

  void evaluate(const alarms::Annunciation& a) {
    const char before = letter();
    const bool stood = stands();
    if (!in_force) {
      beyond_for = clear_for = none;
      decided = false;
    }
    const bool comes = !decided && beyond_for >= on_delay;
    if (comes) decided = true;
    if (decided && clear_for >= off_delay) decided = false;
    go_on_with_test();
    if (comes || (stands() && !stood)) announce();
    if (comes && !suppressed()) shown_for = 0; // announced as new even where a test had announced itself before
    if (stood && !stands()) cease(a);
    lift([&] {
      if (shelved_for >= shelve_at_most) shelved_for = none;
      if (out_for >= service_at_most) out_for = none;
    });
    if (silent_for >= silence_for) silent_for = none;
    if (before == 'C' && letter() == 'C' && shown_for >= reannounce_after) announce();
    settle(before);
  }

  /// An act of a person; false, and nothing has changed, when the trade's table has no such row.
  bool act(const alarms::Annunciation& a, alarms::Act what, int duration, bool has_reason) {
    const char before = letter();
    const bool accepted = try_act(a, what, duration, has_reason);
    if (accepted) settle(before);
    return accepted;
  }

  bool design_logic_says(const alarms::Annunciation& a, bool on) {
    if (on && a.safety) return false;
    const char before = letter();
    lift([&] { by_design = on; });
    settle(before);
    return true;
  }

  /// Nothing is acknowledged and nothing cleared. Running delays, silence, test and design suppression are gone.
  void restart(int away, bool time_unknown) {
    time_passes(away);
    if (by_design && stands()) owed = true; // its end announces anew
    if (simulated && !decided) owed = true; // nobody has acknowledged what is taken for real from here on
    decided = stands();                     // what a test has raised counts as real
    *this = Witness{.decided = decided,
                    .owed = owed,
                    .latched = latched,
                    .shown_for = shown_for,
                    .shelved_for = shelved_for != none && time_unknown ? shelve_at_most : shelved_for,
                    .shelved_once = shelved_for != none && shelved_once,
                    .out_for = out_for != none && time_unknown ? service_at_most : out_for,
                    .in_force = in_force};
  }

  bool operator==(const Witness&) const = default;

private:
  void announce() {
    owed = true;
    latched = false;
    silent_for = none;
  }

  void cease(const alarms::Annunciation& a) {
    if (a.latching)
      latched = true;
    else if (!a.acknowledge_required)
      owed = false;
    if (shelved_once) lift([&] { shelved_for = none; });
  }

  /// `change` may end suppressions; the end of the last one announces what stands, and forgets what did not latch.
  template <class Change> void lift(Change change) {
    const bool was_suppressed = suppressed();
    change();
    if (shelved_for == none) shelved_once = false;
    if (!was_suppressed || suppressed()) return;
    if (stands())
      owed = true;
    else if (!latched)
      owed = false;
    silent_for = none;
  }

  void settle(char before) {
    if (letter() != before) shown_for = 0;
  }

  void go_on_with_test() {
    if (test_for == none) return;
    if (simulated_for == none) simulated_for = 0;
    simulated = simulated_for >= on_delay;
    if (decided || test_over || test_for >= test_at_most || suppressed()) {
      test_for = simulated_for = none;
      test_over = simulated = false;
    }
  }

  bool try_act(const alarms::Annunciation& a, alarms::Act what, int duration, bool has_reason) {
    using enum alarms::Act;
    const char shown = letter();
    switch (what) {
    case acknowledge:
      if (shown != 'B' && shown != 'D' && shown != 'E') return false;
      owed = false;
      silent_for = none;
      return true;
    case silence:
      if (!sounds()) return false;
      silent_for = 0;
      return true;
    case reset:
      if (shown != 'F') return false;
      latched = false;
      return true;
    case shelve:
    case shelve_once:
      if (a.safety || shelved_for != none || !has_reason || duration <= 0 || duration > shelve_at_most) return false;
      shelved_for = 0;
      shelved_once = what == shelve_once;
      return true;
    case unshelve:
      if (shelved_for == none) return false;
      lift([&] { shelved_for = none; });
      return true;
    case remove_from_service:
      if (out_for != none || !has_reason || duration <= 0 || duration > service_at_most) return false;
      out_for = 0;
      return true;
    case return_to_service:
      if (out_for == none) return false;
      lift([&] { out_for = none; });
      return true;
    case test:
      if (test_for != none || shown != 'A' || duration <= on_delay || duration > test_at_most) return false;
      test_for = 0;
      return true;
    case end_test:
      if (test_for == none) return false;
      test_over = true;
      return true;
    }
    return false;
  }
};

} // namespace oxherd::alarms_graph_test
