#pragma once

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "tests/simulation/drill/happening.hpp"
#include "tests/simulation/drill/site_plan.hpp"
#include "tests/simulation/drill/tally.hpp"

namespace oxherd::drill {

/// Broken on purpose, so that it can be seen that a check fails.
enum class Breakage {
  none,
  low_values_unjudged, ///< a poll that would show low oxygen is not taken
  a_minute_late,       ///< polls come a minute late
  alarm_without_cause, ///< one value is low once
  line_lost,           ///< a line of the journal is not kept
  alarm_forgotten,     ///< a restart reads nothing back
  message_lost,        ///< the broker acknowledges messages that it throws away
  relay_held,          ///< it does not warn, whatever stands
  measurement_lost,    ///< one is not kept
  gas_not_shut,        ///< a gas valve that is open is not told to shut
  stuck_valve_untold   ///< its module says that it holds what it was told
};
/// Whether it takes a room with gas to find it.
[[nodiscard]] constexpr bool is_of_gas(Breakage breakage) { return breakage >= Breakage::gas_not_shut; }

/// A site and all that befalls it: drawn from one seed, then plain data.
struct Script {
  std::uint64_t seed = 0;
  SitePlan site;
  Story story;
  Monotonic length{0};
  bool keeps_measurements = false; ///< their file as well as the journal
  Breakage breakage = Breakage::none;
};
/// @param days  of simulated time; 0: drawn too
/// @param gas_share  of sites that a gas is let into
/// Measurements, which would take most of the time, are kept in one of sixteen runs of less than two days.
[[nodiscard]] Script drawn_script(std::uint64_t seed, double days = 0.0, double gas_share = with_gas);

struct Outcome {
  Tally tally;
  std::vector<std::string> complaints; ///< "at 123.4 s: ..."; the run ends at the first
  std::uint64_t digest = 0;            ///< of every line of the journal, in its order
};
/// Runs the script on a simulated clock. The same script gives the same outcome.
[[nodiscard]] Outcome run(const Script& script);

} // namespace oxherd::drill
