#pragma once

#include <string>
#include <string_view>

namespace oxherd::daemon {

/// A text as one field of a comma-separated table. What a spreadsheet would take for a formula - a text that begins
/// with = + - @ a tab or a carriage return - gets an apostrophe before it, by which spreadsheets know a text: names and
/// comments are written by people. Numbers are not texts: write them as they are.
/// @source RFC 4180, 2.5 to 2.7 (a field with a comma, quote or line break is quoted, quotes are doubled); OWASP, "CSV
///         Injection" (the characters, and the apostrophe)
/// @checked tests/daemon/csv_text_test.cpp
[[nodiscard]] std::string csv_field(std::string_view text);

} // namespace oxherd::daemon
