#pragma once

#include <string>
#include <string_view>

#include <tl/expected.hpp>

#include "daemon/reading_basis.hpp"

namespace oxherd::daemon::store {

/// What readings rest on as one line of JSON, SI units, every number to its last bit. Equal bases give equal texts.
[[nodiscard]] std::string basis_text(const ReadingBasis& basis);
/// @return the basis, or why the text is none
[[nodiscard]] tl::expected<ReadingBasis, std::string> basis_from(std::string_view text);

} // namespace oxherd::daemon::store
