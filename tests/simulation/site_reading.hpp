#pragma once

#include <string>
#include <vector>

#include "daemon/room/site.hpp"
#include "demo/site.hpp"
#include "demo/story.hpp"
#include "tests/simulation/file_calibrations.hpp"

namespace oxherd::simulation {

/// The settings of demo/larkfield.toml, with demo/control.toml behind them as `demo/run --control` reads them.
enum class Scenario { watched, controlled };
[[nodiscard]] config::Settings larkfield_settings(Scenario scenario);

/// A story that must be without a fault.
[[nodiscard]] std::vector<demo::StoryStep> steps_of(const std::string& story);

/// A moment on the daemon's two clocks.
struct Moment {
  daemon::Monotonic at{0};
  daemon::WallTime wall;
};

/// What a bus thread would bring of a sensor of the simulated site: registers decoded by its map, contacts, silence,
/// refusals.
[[nodiscard]] daemon::Poll poll_of(const demo::Site& world, const config::Settings& settings, daemon::SensorRef at,
                                   const Moment& now);

} // namespace oxherd::simulation
