// A SenML pack from anywhere: refused in words, or every record has a name, a value and a time that databases hold.
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <string_view>

#include "daemon/collect/senml.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace oxherd::daemon::collect;
  const auto records = resolve_senml({reinterpret_cast<const char*>(data), size},
                                     SampleTime{std::chrono::microseconds{1'700'000'000'000'000}});
  if (!records && records.error().empty()) __builtin_trap();
  if (!records) return 0;
  for (const auto& record : *records) {
    if (record.name.empty() || (record.value.index() == 0 && !record.sum)) __builtin_trap();
    if (record.name.find('\0') != std::string::npos || record.unit.find('\0') != std::string::npos) __builtin_trap();
  }
  return 0;
}
