#include "tests/simulation/drill/drill.hpp"

#include <algorithm>
#include <cmath>

#include "tests/simulation/drill/run.hpp"

namespace oxherd::drill {
namespace {

using namespace std::chrono_literals;

/// What a site of one room makes whose three sensors answer every two minutes.
constexpr double polls_a_day_borne = 2160.0;
constexpr double least_days = 0.1; ///< for all that befell it to end and be seen by a person

} // namespace

Script drawn_script(std::uint64_t seed, double days, double gas_share) {
  Chance chance{mixed(seed)};
  Script script;
  script.seed = seed;
  script.site = drawn_site(chance, gas_share);
  // A site that polls fast is lived for a shorter time, in which more befalls it: so short periods are covered as well
  // as long ones, and a room-year costs little.
  const double share = std::min(1.0, polls_a_day_borne / script.site.polls_a_day());
  const double drawn_days = least_days + share * std::exp(chance.between(std::log(1.0), std::log(20.0)));
  script.length = ms_of(86400.0 * (days > 0.0 ? days : drawn_days));
  Stage stage;
  for (const auto& room : script.site.rooms) {
    stage.sensors.push_back(room.sensors());
    stage.gas.push_back(room.gas.any());
  }
  stage.length = script.length;
  stage.density = std::exp(chance.between(std::log(0.55), std::log(22.0))) / std::sqrt(share);
  // Where a gas is let in, all that is needed for it must be well now and then.
  if (script.site.has_gas()) stage.density *= 0.4;
  script.story = drawn_story(chance, stage);
  const bool is_short = script.length < 48h;
  script.keeps_measurements = is_short && mixed(seed ^ 0x6d656173U) % 16 == 0;
  return script;
}

Outcome run(const Script& script) { return Run{script}.live(); }

} // namespace oxherd::drill
