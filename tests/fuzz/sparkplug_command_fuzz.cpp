// What anybody who may publish to the broker asks of the edge node: whole payloads, parts of them, or anything else.
#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>

#include "daemon/sparkplug/edge_node.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace oxherd::daemon::sparkplug;
  const std::string_view bytes{reinterpret_cast<const char*>(data), size};
  const auto command = read_command(bytes);
  if (!command && command.error().empty()) __builtin_trap();
  if (command && command->first_other.size() > 80) __builtin_trap();

  EdgeNode node{"farms", "larkfield", {}, std::chrono::milliseconds{0}};
  node.begin(0);
  const oxherd::daemon::WallTime wall{std::chrono::seconds{1772352930}};
  oxherd::alarms::Monotonic now{0};
  while (node.next(now, wall)) {} // its first birth
  now += EdgeNode::births_apart;
  std::string told;
  const auto heard = node.hear(bytes, told);
  const bool is_born_again = node.next(now, wall).has_value();
  if (is_born_again != (command && command->rebirth)) __builtin_trap();
  if (is_born_again != (heard == EdgeNode::Heard::rebirth)) __builtin_trap();
  const bool is_counted = node.commands_ignored() > 0;
  if (is_counted != (!command || command->others > 0)) __builtin_trap();
  return 0;
}
