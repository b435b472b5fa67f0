#include <array>

#include "config/rules.hpp"
#include "config/sections.hpp"

namespace oxherd::config {
namespace {

enum class OutputKind { alarm_relay, heartbeat };
constexpr std::array<Choice<OutputKind>, 2> output_kinds{
    {{"alarm-relay", OutputKind::alarm_relay}, {"heartbeat", OutputKind::heartbeat}}};
/// The module drops its relays by its own time-out, which must be longer than this but no more than 10 s (proposal of
/// the project).
constexpr QuantityRule rewrite_span{compensation::Dimension::duration, 0.1, 5.0, "100 ms to 5 s"};

} // namespace

Output read_output(const std::string& name, TableReader in, const std::vector<Bus>& buses) {
  Output output;
  output.name = name;
  in.require("kind", "\"alarm-relay\"");
  const auto kind = in.choice("kind", output_kinds);
  const Bus* bus = find_bus(in, "bus", buses);
  if (bus != nullptr) output.bus = bus->name;
  output.unit = read_unit(in, bus);
  output.every = in.duration("every", rewrite_span).value_or(output.every);
  if (kind == OutputKind::alarm_relay) {
    AlarmRelay relay;
    in.require("room", "\"cryo-annexe\"");
    in.require("coil", "0");
    relay.room = in.text("room").value_or("");
    relay.coil = static_cast<std::uint16_t>(in.integer("coil", register_address).value_or(0));
    output.kind = relay;
    if (in.has("register")) in.error("register", "belongs to an output of kind \"heartbeat\"");
  }
  if (kind == OutputKind::heartbeat) {
    Heartbeat heartbeat;
    in.require("register", "10");
    heartbeat.holding_register = static_cast<std::uint16_t>(in.integer("register", register_address).value_or(0));
    output.kind = heartbeat;
    for (const std::string_view key : {"room", "coil"})
      if (in.has(key)) in.error(key, "belongs to an output of kind \"alarm-relay\"");
  }
  if (!kind) // which keys belong here is not known; none of them is reported as unknown
    for (const std::string_view key : {"room", "coil", "register"}) static_cast<void>(in.has(key));
  in.finish();
  return output;
}

} // namespace oxherd::config
