#include <cstddef>
#include <cstdint>
#include <string_view>

#include "config/load.hpp"
#include "config/profile.hpp"

/// Fuzz target: the settings file and a profile from the same bytes.
extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string_view text{reinterpret_cast<const char*>(data), size};
  static_cast<void>(oxherd::config::parse(text, "site.toml", {}));
  oxherd::config::Problems problems{"profile.toml"};
  static_cast<void>(oxherd::config::parse_profile("profile", text, problems));
  return 0;
}
