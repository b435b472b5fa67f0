// Random bytes as a typed quantity: whatever is typed gives a finite value or a message a terminal can show.
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <string_view>

#include "compensation/units.hpp"

namespace {

void require(bool promise) {
  if (!promise) std::abort();
}

} // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace oxherd::compensation;
  if (size == 0) return 0;
  const auto dimension = static_cast<Dimension>(data[0] % (static_cast<int>(Dimension::number) + 1));
  const std::string_view text{reinterpret_cast<const char*>(data + 1), size - 1};
  const auto parsed = parse_quantity(text, dimension);
  if (parsed) {
    require(std::isfinite(*parsed));
    require(!text.empty());
  } else {
    require(!parsed.error().message.empty());
    require(parsed.error().message.size() < 400);
    for (const char c : parsed.error().message) require(static_cast<unsigned char>(c) >= 0x20U);
  }
  (void)find_unit(text, dimension);
  return 0;
}
