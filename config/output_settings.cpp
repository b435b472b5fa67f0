#include "config/output_settings.hpp"

#include <cmath>
#include <type_traits>

namespace oxherd::config {

std::string_view name_of_kind(const OutputKind& kind) {
  struct Name {
    std::string_view operator()(const AlarmRelay&) const { return "alarm-relay"; }
    std::string_view operator()(const Heartbeat&) const { return "heartbeat"; }
    std::string_view operator()(const Sounder&) const { return "sounder"; }
    std::string_view operator()(const Beacon&) const { return "beacon"; }
    std::string_view operator()(const RoomReading&) const { return "reading"; }
    std::string_view operator()(const AlarmStateNumber&) const { return "alarm-state"; }
    std::string_view operator()(const EntryLockRelay&) const { return "entry-lock"; }
    std::string_view operator()(const Actuator&) const { return "actuator"; }
  };
  return std::visit(Name{}, kind);
}

WrittenAt written_at(const OutputKind& kind) {
  return std::visit(
      [](const auto& one) -> WrittenAt {
        if constexpr (requires { one.at; })
          return one.at;
        else if constexpr (requires { one.coil; })
          return {true, one.coil};
        else
          return {false, one.holding_register};
      },
      kind);
}

int words_of(const OutputKind& kind) {
  const auto* reading = std::get_if<RoomReading>(&kind);
  return reading != nullptr && reading->is_float ? 2 : 1;
}

std::vector<std::string> rooms_of(const OutputKind& kind) {
  return std::visit(
      [](const auto& one) -> std::vector<std::string> {
        if constexpr (requires { one.rooms; })
          return one.rooms;
        else if constexpr (requires { one.room; })
          return {one.room};
        else
          return {};
      },
      kind);
}

bool is_provable(const OutputKind& kind) {
  return std::visit(
      [](const auto& one) {
        using Kind = std::decay_t<decltype(one)>;
        return std::is_same_v<Kind, AlarmRelay> || std::is_same_v<Kind, Sounder> || std::is_same_v<Kind, Beacon>;
      },
      kind);
}

std::optional<std::uint32_t> value_at_rest(const OutputKind& kind, bool people_may_be_in) {
  if (std::holds_alternative<AlarmRelay>(kind) || std::holds_alternative<EntryLockRelay>(kind)) return 0;
  if (const auto* actuator = std::get_if<Actuator>(&kind))
    return value_of(*actuator, control::output_of(actuator->rules.safe, people_may_be_in));
  return std::nullopt;
}

const Actuator* actuator_named(const std::vector<Output>& outputs, std::string_view name) {
  for (const auto& output : outputs)
    if (output.name == name) return std::get_if<Actuator>(&output.kind);
  return nullptr;
}

std::uint32_t value_of(const Actuator& actuator, double output) {
  if (actuator.at.is_coil) return (output > 0.5) == actuator.works_energised ? 1 : 0;
  return static_cast<std::uint32_t>(std::lround(actuator.at_0 + (actuator.at_100 - actuator.at_0) * output));
}

bool answers_for(const std::string& room, bool first_of_site, const OutputKind& kind) {
  const auto rooms = rooms_of(kind);
  return rooms.empty() ? first_of_site : rooms.front() == room;
}

} // namespace oxherd::config
