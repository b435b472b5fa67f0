#pragma once

#include <map>
#include <optional>
#include <span>
#include <utility>
#include <vector>

#include "daemon/room/poll.hpp"
#include "tests/simulation/drill/happening.hpp"
#include "tests/simulation/drill/true_air.hpp"
#include "tests/simulation/drill/true_gas.hpp"

namespace oxherd::drill {

/// What the bus threads bring: the registers that true values give, spoilt by whatever befalls devices and lines, and
/// decoded by the daemon's own decoder.
class SimulatedBus {
public:
  SimulatedBus(const SitePlan& site, const config::Settings& settings, std::uint64_t seed)
      : site_{site}, settings_{settings}, seed_{seed} {}

  struct Brought {
    daemon::Poll poll;    ///< without its times
    bool answered = true; ///< something came, be it an exception
    Monotonic took{0};    ///< so long the thread was at it
  };
  std::vector<const TrueGas*> gas; ///< by room; null: it has none
  /// One poll of a sensor; nothing when the thread brings nothing.
  /// @param active  what befalls the site now
  [[nodiscard]] std::optional<Brought> poll(daemon::SensorRef at, const TrueAir& air, Monotonic now,
                                            std::span<const Happening* const> active);

private:
  using Words = std::vector<std::uint16_t>;
  [[nodiscard]] Words true_words(daemon::SensorRef at, const TrueAir& air, Monotonic now,
                                 std::span<const Happening* const> active) const;
  [[nodiscard]] Words gas_words(daemon::SensorRef at, Monotonic now, std::span<const Happening* const> active) const;
  [[nodiscard]] bool befalls(const Happening& h, daemon::SensorRef at) const;
  [[nodiscard]] double spoilt(const Happening& happening, daemon::SensorRef at, Monotonic now) const;
  void decode(daemon::SensorRef at, const Words& words, daemon::Poll& poll) const;

  const SitePlan& site_;
  const config::Settings& settings_;
  std::uint64_t seed_;
  std::map<std::pair<std::size_t, std::size_t>, Words> held_; ///< of stuck sensors
};

} // namespace oxherd::drill
