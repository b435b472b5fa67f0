#pragma once

#include <string>
#include <string_view>
#include <vector>

#include <tl/expected.hpp>

#include "daemon/reading_basis.hpp"

namespace oxherd::daemon::store {

/// What readings rest on as one line of JSON, SI units, every number to its last bit. Equal bases give equal texts.
[[nodiscard]] std::string basis_text(const ReadingBasis& basis);
/// @return the basis, or why the text is none
[[nodiscard]] tl::expected<ReadingBasis, std::string> basis_from(std::string_view text);

/// Reasons as a JSON array of [status, text]; empty text for no reasons.
[[nodiscard]] std::string reasons_text(const std::vector<alarms::Reason>& reasons);
[[nodiscard]] tl::expected<std::vector<alarms::Reason>, std::string> reasons_from(std::string_view text);

} // namespace oxherd::daemon::store
