#include "daemon/csv_text.hpp"

namespace oxherd::daemon {

std::string csv_field(std::string_view text) {
  const bool is_formula = !text.empty() && std::string_view{"=+-@\t\r"}.find(text.front()) != std::string_view::npos;
  const std::string plain = (is_formula ? "'" : "") + std::string{text};
  if (plain.find_first_of(",\"\r\n") == std::string::npos) return plain;
  std::string quoted{'"'};
  for (const char c : plain) {
    if (c == '"') quoted += '"';
    quoted += c;
  }
  return quoted + '"';
}

} // namespace oxherd::daemon
