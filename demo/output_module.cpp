#include "demo/output_module.hpp"

#include <algorithm>

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
  const bool any_on = std::ranges::find(coils_, true) != coils_.end();
  coils_.fill(false);
  return any_on;
}

} // namespace oxherd::demo
