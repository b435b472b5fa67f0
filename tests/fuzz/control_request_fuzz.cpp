// Whatever comes over the control socket, parsing it neither crashes nor throws.
#include <cstddef>
#include <cstdint>
#include <string>

#include "daemon/control_socket/requests.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const auto request = oxherd::daemon::parse_request(std::string{reinterpret_cast<const char*>(data), size});
  if (!request && request.error().empty()) __builtin_trap(); // a refusal always says why
  return 0;
}
