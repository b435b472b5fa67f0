#pragma once

#include <chrono>
#include <functional>

namespace oxherd::control {

using WallTime = std::chrono::sys_time<std::chrono::milliseconds>;
/// What a clock on the wall shows.
using LocalTime = std::chrono::local_time<std::chrono::milliseconds>;

/// Local time less UTC at an instant: all that is to be known of a time zone. It changes once in two days at most.
using OffsetAt = std::function<std::chrono::seconds(WallTime)>;

[[nodiscard]] LocalTime local_time(const OffsetAt& offset_at, WallTime at);

/// The first instant at which the clocks of the zone show this time or a later one: in autumn, when an hour comes
/// twice, its first passing; for a time that the clocks skip in spring, the moment in which they do.
[[nodiscard]] WallTime first_instant_of(const OffsetAt& offset_at, LocalTime local);

} // namespace oxherd::control
