#include "demo/output_module.hpp"

#include <algorithm>
#include <span>

namespace oxherd::demo {

void OutputModule::write_coil(std::size_t coil, bool on, Monotonic now) {
  coils_.at(coil) = on;
  written_ = now;
}

void OutputModule::write_register(std::size_t index, std::uint16_t value, Monotonic now) {
  registers_.at(index) = value;
  written_ = now;
}

bool OutputModule::tick(Monotonic now) {
  if (written_ && now - *written_ < watchdog) return false;
  const std::span analogue{registers_.data(), analogue_outputs_};
  const bool any_on = std::ranges::find(coils_, true) != coils_.end();
  const bool any_open = std::ranges::any_of(analogue, [](std::uint16_t value) { return value != 0; });
  coils_.fill(false);
  std::ranges::fill(analogue, std::uint16_t{0});
  return any_on || any_open;
}

} // namespace oxherd::demo
