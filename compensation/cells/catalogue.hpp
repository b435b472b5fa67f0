#pragma once

#include <span>
#include <string_view>

#include "compensation/cells/law.hpp"

namespace oxherd::compensation::cells {

/// Every cell model, in the order in which help texts list them.
[[nodiscard]] std::span<const Law* const> catalogue();

/// The model of that name ("partial-pressure"), or null.
[[nodiscard]] const Law* find(std::string_view name);

/// The equations of a model.
[[nodiscard]] const Law& law_of(CellModel model);

} // namespace oxherd::compensation::cells
