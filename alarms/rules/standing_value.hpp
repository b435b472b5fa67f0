#pragma once

#include <optional>
#include <span>

#include "alarms/rules/rule_input.hpp"

namespace oxherd::alarms {

enum class Direction { low, high };

/// The value that stands for a voted group: the only one, the lower (higher for a high limit) of two, the median of
/// three. Never the mean. Empty when no channel is usable. Of more channels than any scheme has, the first ones count.
[[nodiscard]] std::optional<Channel> standing_value(std::span<const Channel> channels, Direction unfavourable);

} // namespace oxherd::alarms
