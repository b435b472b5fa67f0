#pragma once

#include <string_view>

namespace oxherd::daemon {

/// How deep brackets are nested outside of strings, found without parsing: whoever means ill nests deeper than the
/// stack of a program that copies or prints the parsed value goes. 0 for a bare value.
[[nodiscard]] int json_depth(std::string_view text);

} // namespace oxherd::daemon
