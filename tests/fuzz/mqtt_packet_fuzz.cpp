// What a broker, or something in its place, sends to a subscriber: whole packets, parts of them, or a refusal in words.
#include <cstddef>
#include <cstdint>
#include <string_view>

#include "daemon/collect/mqtt_packet.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace oxherd::daemon::collect;
  std::string_view bytes{reinterpret_cast<const char*>(data), size};
  while (!bytes.empty()) {
    const auto one = decode_packet(bytes, 1 << 16);
    if (!one && one.error().empty()) __builtin_trap();
    if (!one || !*one) break;
    if ((*one)->used < 2 || (*one)->used > bytes.size()) __builtin_trap();
    const auto* message = std::get_if<PublishedMessage>(&(*one)->packet);
    if (message != nullptr && (message->topic.empty() || message->payload.size() > bytes.size())) __builtin_trap();
    bytes.remove_prefix((*one)->used);
  }
  return 0;
}
