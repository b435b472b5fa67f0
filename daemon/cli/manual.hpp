#pragma once

#include <string>
#include <string_view>

namespace oxherd::daemon::cli {

/// The manual page oxherd(1) in the man macros of roff, ASCII only, made from the catalogue of commands.
[[nodiscard]] std::string manual_page();

/// Text as roff takes it: nothing of it is an instruction, a dash stays a dash that can be copied.
[[nodiscard]] std::string roff_text(std::string_view text);

} // namespace oxherd::daemon::cli
