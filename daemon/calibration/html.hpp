#pragma once

#include <string>
#include <string_view>

namespace oxherd::daemon {

/// Text for an HTML element or a quoted attribute. What HTML cannot hold (control characters) becomes U+FFFD.
[[nodiscard]] std::string html_text(std::string_view text);

/// A CSS string with its quotes; everything but letters, digits and spaces is escaped, so it cannot leave a style
/// element either.
[[nodiscard]] std::string css_string(std::string_view text);

} // namespace oxherd::daemon
