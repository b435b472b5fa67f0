#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "daemon/bus/output_write.hpp"
#include "daemon/room/site.hpp"

namespace oxherd::daemon {

/// What an output is to hold now. Whatever is unclear is told as the alarm state or as no value.
/// @param rooms  that it serves, as rooms_served() gives them
[[nodiscard]] OutputValue wanted(const config::OutputKind& kind, const std::vector<std::size_t>& rooms,
                                 const Site& site, Monotonic now);
/// The same kind as if its device made the pattern by itself: wanted() of it is the number of the pattern, which lasts
/// while a coil flashes.
[[nodiscard]] config::OutputKind by_pattern(config::OutputKind kind);
/// What an output of this kind holds at a moment, of what is wanted by_pattern().
[[nodiscard]] OutputValue in_step(const config::OutputKind& kind, OutputValue by_pattern, Monotonic now);
/// What it holds when it warns, for a proof test: a relay off, a horn sounding without a pause, a beacon flashing fast.
/// One with a feedback contact is lit steadily: the contact is asked right after each write, and one that takes a while
/// would never be seen to follow a flash. Only for kinds that can be proved.
[[nodiscard]] OutputValue wanted_to_warn(const config::OutputKind& kind, Monotonic now, bool has_contact = false);
/// Whether the site asks a horn or beacon to do anything, or a relay to drop.
[[nodiscard]] bool warns(const config::OutputKind& kind, const std::vector<std::size_t>& rooms, const Site& site,
                         Monotonic now);
/// Whether a new value is written at once; a count or a display waits for its next turn.
[[nodiscard]] bool is_prompt(const config::OutputKind& kind);

/// A number as float32 in two registers, in that order of bytes on the wire.
[[nodiscard]] OutputValue as_float32(double number, drivers::ByteOrder order);
/// A ratio on the span of a register: 0 at `from`, 65535 at `to`, the nearest end beyond.
[[nodiscard]] std::uint16_t scaled(double value, double from, double to);

} // namespace oxherd::daemon
