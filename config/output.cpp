#include <algorithm>
#include <array>

#include <fmt/core.h>

#include "config/nearest.hpp"
#include "config/rules.hpp"
#include "config/sections.hpp"

namespace oxherd::config {
namespace {

using compensation::Dimension;
using drivers::ByteOrder;

constexpr std::array<Choice<int>, 8> output_kinds{{{"alarm-relay", 0},
                                                   {"heartbeat", 1},
                                                   {"sounder", 2},
                                                   {"beacon", 3},
                                                   {"reading", 4},
                                                   {"alarm-state", 5},
                                                   {"entry-lock", 6},
                                                   {"actuator", 7}}};
constexpr std::array<Choice<ShownQuantity>, 3> shown_quantities{
    {{"oxygen", ShownQuantity::oxygen},
     {"oxygen-lower-bound", ShownQuantity::oxygen_lower_bound},
     {"carbon-dioxide", ShownQuantity::carbon_dioxide}}};
constexpr std::array<Choice<bool>, 2> output_formats{{{"uint16", false}, {"float32", true}}};
constexpr std::array<Choice<ByteOrder>, 4> output_orders{
    {{"ABCD", ByteOrder::abcd}, {"CDAB", ByteOrder::cdab}, {"BADC", ByteOrder::badc}, {"DCBA", ByteOrder::dcba}}};

/// The module drops its relays by its own time-out, which must be longer than this but no more than 10 s (proposal of
/// the project).
constexpr QuantityRule rewrite_span{Dimension::duration, 0.1, 5.0, "100 ms to 5 s"};
/// A lost horn is to be known within a minute at most (proposal of the project).
constexpr QuantityRule confirm_span{Dimension::duration, 0.5, 60.0, "500 ms to 60 s"};
constexpr QuantityRule stroke_span{Dimension::duration, 0.0, 60.0, "0 s to 60 s"};
constexpr std::chrono::milliseconds confirm_after_stroke{2000};
/// A flashing coil changes every 500 ms; what is left is for the bus to ask in.
constexpr std::chrono::milliseconds stroke_while_flashing{400};
/// Relays, horns and beacons: the shorter, the less time a failure that nothing reports stays hidden. Proposal of the
/// project.
constexpr std::chrono::days proof_by_default{90};

/// Which kinds a key belongs to, where it does not belong to all.
struct OutputKey {
  std::string_view key;
  std::vector<std::string_view> kinds;
};
const std::vector<OutputKey>& output_keys() {
  static const std::vector<OutputKey> keys = [] {
    std::vector<OutputKey> all{
        {"room", {"alarm-relay", "sounder", "beacon", "reading", "alarm-state", "entry-lock", "actuator"}},
        {"rooms", {"sounder", "beacon"}},
        {"coil", {"alarm-relay", "sounder", "beacon", "entry-lock", "actuator"}},
        {"register", {"heartbeat", "sounder", "beacon", "reading", "alarm-state", "actuator"}},
        {"alarm", {"alarm-state"}},
        {"quantity", {"reading"}},
        {"format", {"reading"}},
        {"order", {"reading"}},
        {"from", {"reading"}},
        {"to", {"reading"}},
        {"when_bad", {"reading"}},
        {"feedback", {"alarm-relay", "sounder", "beacon", "actuator"}},
        {"prove_every", {"alarm-relay", "sounder", "beacon"}}};
    for (const std::string_view key : actuator_keys()) all.push_back({key, {"actuator"}});
    return all;
  }();
  return keys;
}

std::string quoted_kinds(const std::vector<std::string_view>& kinds) {
  std::string text;
  for (std::size_t i = 0; i < kinds.size(); ++i)
    text += fmt::format("{}\"{}\"", i == 0 ? "" : i + 1 == kinds.size() ? " or " : ", ", kinds[i]);
  return text;
}

/// Reports keys of other kinds. Without a kind it is not known which belong here: none is reported, not even as
/// unknown.
void refuse_foreign_keys(TableReader& in, std::optional<std::string_view> kind) {
  for (const auto& [key, kinds] : output_keys()) {
    if (!kind)
      in.pass_over(key);
    else if (std::find(kinds.begin(), kinds.end(), *kind) == kinds.end())
      in.refuse(key, fmt::format("belongs to an output of kind {}", quoted_kinds(kinds)));
  }
}

std::uint16_t read_address(TableReader& in, std::string_view key, std::string_view example) {
  in.require(key, example);
  return static_cast<std::uint16_t>(in.integer(key, register_address).value_or(0));
}

std::string read_one_room(TableReader& in) {
  in.require("room", "\"cryo-annexe\"");
  return in.text("room").value_or("");
}

std::vector<std::string> read_rooms(TableReader& in) {
  if (in.has("room") && in.has("rooms")) in.error("rooms", "and \"room\" exclude each other");
  auto rooms = in.texts("rooms");
  if (const auto one = in.text("room")) rooms = {*one};
  const Node* node = in.node("rooms");
  const auto* items = node != nullptr ? std::get_if<Array>(&node->value) : nullptr;
  if (items != nullptr && items->empty()) in.error("rooms", "names nothing; leave it out for all rooms");
  return rooms;
}

/// A coil that is switched in the pattern, or a register that takes its number.
WrittenAt read_coil_or_register(TableReader& in) {
  const bool coil = in.has("coil"), holding = in.has("register");
  if (coil && holding) in.error("register", "and \"coil\" exclude each other");
  if (!coil && holding) return {false, read_address(in, "register", "0")};
  return {true, read_address(in, "coil", "0")};
}

RoomReading read_reading(TableReader& in) {
  RoomReading reading;
  reading.room = read_one_room(in);
  in.require("quantity", "\"oxygen\"");
  reading.quantity = in.choice("quantity", shown_quantities).value_or(reading.quantity);
  reading.holding_register = read_address(in, "register", "0");
  reading.is_float = in.choice("format", output_formats).value_or(false);
  if (reading.is_float) {
    reading.order = in.choice("order", output_orders).value_or(reading.order);
    for (const std::string_view key : {"from", "to", "when_bad"})
      if (in.has(key))
        in.error(key, "belongs to format \"uint16\"; a float32 needs no span, and is NaN without a value");
    if (reading.holding_register == 65535)
      in.error("register", "65535 leaves no room for the second register of a float32");
    return reading;
  }
  if (in.has("order")) in.error("order", "belongs to format \"float32\"");
  const bool of_co2 = reading.quantity == ShownQuantity::carbon_dioxide;
  const char* const example = of_co2 ? "\"10000 ppm\"" : "\"25 %\"";
  in.require("from", of_co2 ? "\"0 ppm\"" : "\"0 %\"");
  in.require("to", example);
  const auto from = in.quantity("from", gas_fraction);
  const auto to = in.quantity("to", gas_fraction);
  if (from && to && *from >= *to) in.error("to", "must be above \"from\"");
  reading.from = from.value_or(reading.from);
  reading.to = to.value_or(reading.to);
  // Without a value the display shows the end that makes a person careful.
  reading.when_bad = static_cast<std::uint16_t>(in.integer("when_bad", register_address).value_or(of_co2 ? 65535 : 0));
  return reading;
}

OutputKind read_kind(TableReader& in, int kind) {
  switch (kind) {
  case 0: {
    auto room = read_one_room(in);
    return AlarmRelay{std::move(room), read_address(in, "coil", "0")};
  }
  case 1: return Heartbeat{read_address(in, "register", "10")};
  case 2: {
    auto rooms = read_rooms(in);
    return Sounder{std::move(rooms), read_coil_or_register(in)};
  }
  case 3: {
    auto rooms = read_rooms(in);
    return Beacon{std::move(rooms), read_coil_or_register(in)};
  }
  case 4: return read_reading(in);
  case 6: {
    auto room = read_one_room(in);
    return EntryLockRelay{std::move(room), read_address(in, "coil", "0")};
  }
  case 7: {
    auto room = read_one_room(in);
    const auto at = read_coil_or_register(in);
    return read_actuator(in, std::move(room), at);
  }
  default: {
    auto room = read_one_room(in);
    auto alarm = in.text("alarm");
    return AlarmStateNumber{std::move(room), std::move(alarm), read_address(in, "register", "0")};
  }
  }
}

bool flashes(const OutputKind& kind) {
  return std::holds_alternative<Sounder>(kind) || std::holds_alternative<Beacon>(kind);
}

std::optional<Feedback> read_feedback(TableReader& in, const Bus* bus, const OutputKind& kind) {
  auto table = in.table("feedback");
  if (!table) return std::nullopt;
  const bool is_coil = written_at(kind).is_coil;
  if (!is_coil)
    in.error("feedback", "follows a coil; a device that makes its pattern by itself has no contact that stands still");
  Feedback feedback;
  feedback.unit = read_unit(*table, bus);
  constexpr std::array<Choice<drivers::Table>, 3> tables{{{"discrete_input", drivers::Table::discrete_input},
                                                          {"coil", drivers::Table::coil},
                                                          {"register", drivers::Table::holding_register}}};
  int named = 0;
  for (const auto& one : tables)
    if (const auto address = table->integer(one.word, register_address)) {
      feedback.table = one.value;
      feedback.address = static_cast<std::uint16_t>(*address);
      ++named;
    }
  const bool any = table->has("discrete_input") || table->has("coil") || table->has("register");
  if (!any) table->require("discrete_input", "0");
  if (named > 1) table->error("", "one contact follows: name one of \"discrete_input\", \"coil\" and \"register\"");
  feedback.stroke = table->duration("stroke", stroke_span).value_or(feedback.stroke);
  if (is_coil && flashes(kind) && feedback.stroke >= stroke_while_flashing)
    table->error("stroke",
                 "must be below 400 ms at a horn or beacon: its coil changes every 500 ms while it flashes, and "
                 "a slower contact could never be judged; take a faster contact, or leave feedback out");
  table->finish();
  return feedback;
}

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
  refuse_foreign_keys(in, kind ? std::optional{output_kinds.at(static_cast<std::size_t>(*kind)).word} : std::nullopt);
  if (kind) {
    output.kind = read_kind(in, *kind);
    if (auto* actuator = std::get_if<Actuator>(&output.kind)) actuator->name = name;
    const bool may_have_contact = is_provable(output.kind) || std::holds_alternative<Actuator>(output.kind);
    if (may_have_contact) output.feedback = read_feedback(in, bus, output.kind);
    if (is_provable(output.kind)) {
      output.prove_every = proof_by_default;
      read_days(in, "prove_every", proof_interval_span, output.prove_every);
    }
  }
  const auto stroke = output.feedback ? output.feedback->stroke : std::chrono::milliseconds{0};
  output.confirm_within = in.duration("confirm_within", confirm_span).value_or(stroke + confirm_after_stroke);
  in.finish();
  return output;
}

} // namespace oxherd::config
