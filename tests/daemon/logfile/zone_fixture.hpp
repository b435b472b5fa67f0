#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

namespace oxherd::daemon::zone_test {

/// One transition of a zone file that a test writes.
struct Transition {
  std::int64_t at_s = 0;
  std::uint8_t type = 0;
};

/// A number of so many bytes, the most significant first.
inline std::string bytes_of(std::int64_t value, int bytes) {
  std::string out;
  for (int i = bytes - 1; i >= 0; --i) out += static_cast<char>(static_cast<std::uint64_t>(value) >> (8 * i) & 0xFFU);
  return out;
}

/// A zone file by RFC 9636, section 3: an empty block of version 1, then one of version 2 and the footer.
inline std::string zone_bytes(const std::vector<Transition>& transitions, const std::vector<int>& offsets_s,
                              std::string_view footer, int leap_seconds = 0) {
  const auto header = [](std::size_t leaps, std::size_t times, std::size_t types) {
    std::string out = "TZif2" + std::string(15, '\0');
    for (const std::size_t count : {std::size_t{0}, std::size_t{0}, leaps, times, types, std::size_t{4}})
      out += bytes_of(static_cast<std::int64_t>(count), 4);
    return out;
  };
  std::string out = header(0, 0, 1) + std::string(6, '\0') + "LMT" + '\0';
  out += header(static_cast<std::size_t>(leap_seconds), transitions.size(), offsets_s.size());
  for (const auto& one : transitions) out += bytes_of(one.at_s, 8);
  for (const auto& one : transitions) out += static_cast<char>(one.type);
  for (const int offset : offsets_s) out += bytes_of(offset, 4) + std::string(2, '\0');
  out += "LMT" + std::string(1, '\0') + std::string(static_cast<std::size_t>(leap_seconds) * 12, '\0');
  return out + '\n' + std::string{footer} + '\n';
}

/// The rule of central Europe; see the test of the directive.
inline constexpr const char* central_europe = "CET-1CEST,M3.5.0,M10.5.0/3";

} // namespace oxherd::daemon::zone_test
