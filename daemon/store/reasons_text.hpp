#pragma once

#include <string>
#include <string_view>
#include <vector>

#include <tl/expected.hpp>

#include "alarms/quality.hpp"

namespace oxherd::daemon::store {

/// Reasons as a JSON array of [status, text], with the name of its kind as third member where it is not `other`; empty
/// text for no reasons.
[[nodiscard]] std::string reasons_text(const std::vector<alarms::Reason>& reasons);

/// Reads it. Reasons that were stored before kinds were kept get theirs from how their text begins; a kind of a version
/// to come is read as `other`.
/// @return the reasons, or why the text holds none
[[nodiscard]] tl::expected<std::vector<alarms::Reason>, std::string> reasons_from(std::string_view text);

} // namespace oxherd::daemon::store
