#pragma once

#include <chrono>
#include <ratio>

namespace oxherd::daemon {

/// The month in which drift is stated and a cell's life is counted: a twelfth of 365.25 days, 30.4375 days. A calendar
/// month would make a drift depend on the month. Recorded readings rest on it to the last digit: it must stay.
using Months = std::chrono::duration<double, std::ratio<2'629'800>>;

} // namespace oxherd::daemon
