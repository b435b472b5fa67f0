#pragma once

#include <string>
#include <string_view>

namespace oxherd::daemon {

/// The style element of a certificate: A4 in print, with its number and "page n of N" at the foot of every page.
[[nodiscard]] std::string certificate_style(std::string_view number);

} // namespace oxherd::daemon
