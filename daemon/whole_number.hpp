#pragma once

#include <charconv>
#include <cstdint>
#include <optional>
#include <string_view>
#include <system_error>

namespace oxherd::daemon {

/// A typed whole number with nothing else around it; empty when it is none.
[[nodiscard]] inline std::optional<std::int64_t> whole_number(std::string_view word) {
  std::int64_t n = 0;
  const auto [end, error] = std::from_chars(word.data(), word.data() + word.size(), n);
  return error == std::errc{} && end == word.data() + word.size() ? std::optional{n} : std::nullopt;
}

} // namespace oxherd::daemon
