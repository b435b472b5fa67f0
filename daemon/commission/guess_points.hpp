#pragma once

#include <vector>

#include "daemon/commission/guess.hpp"

namespace oxherd::daemon::commission {

/// Every plausible reading of one run of registers by itself, with points and reasons; neighbours are not looked at.
[[nodiscard]] std::vector<Guess> plausible_readings(const SampledRun& run, const Hints& hints);

/// Points for values that usually stand side by side, in one type: temperature, humidity, then pressure or CO2.
/// Humidity without them loses some.
void judge_neighbours(std::vector<Guess>& guesses);

} // namespace oxherd::daemon::commission
