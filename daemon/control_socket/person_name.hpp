#pragma once

#include <algorithm>
#include <string_view>

namespace oxherd::daemon {

/// Whether a journal can take this for the name of a person: something to read, and no control characters, which could
/// forge lines of a log.
[[nodiscard]] inline bool is_a_name(std::string_view text) {
  const auto is_control = [](unsigned char c) { return c < 0x20 || c == 0x7F; };
  return std::none_of(text.begin(), text.end(), is_control) && text.find_first_not_of(' ') != std::string_view::npos;
}

} // namespace oxherd::daemon
