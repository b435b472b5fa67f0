// Whatever is read as a calibration record, it is refused with a sentence or written again to the same text.
#include <cstddef>
#include <cstdint>
#include <string_view>

#include "daemon/calibration/record_json.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace oxherd::daemon;
  const auto record = record_from_json({reinterpret_cast<const char*>(data), size});
  if (!record) {
    if (record.error().empty() || record.error().size() > 4096 + size) __builtin_trap();
    return 0;
  }
  const auto text = to_json(*record);
  const auto again = record_from_json(text);
  if (!again || to_json(*again) != text) __builtin_trap();
  return 0;
}
