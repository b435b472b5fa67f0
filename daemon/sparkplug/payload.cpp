#include "daemon/sparkplug/payload.hpp"

#include <algorithm>
#include <chrono>

#include <sparkplug_b.pb.h>

namespace oxherd::daemon::sparkplug {
namespace {

// 6.4.9.1
constexpr std::uint32_t quality_bad = 0;
constexpr std::uint32_t quality_good = 192;

/// A command is a few metrics; what is longer is none.
constexpr std::size_t command_bytes_max = 65536;
constexpr std::size_t told_name_bytes_max = 80;

/// The standard knows no time before 1970.
std::uint64_t milliseconds_since_1970(WallTime at) {
  const auto ms = std::chrono::duration_cast<std::chrono::milliseconds>(at.time_since_epoch()).count();
  return ms < 0 ? 0 : static_cast<std::uint64_t>(ms);
}

/// A signed integer goes out as the unsigned one of its two's complement (6.4.16).
struct PutValue {
  sparkplug_b::Metric& into;
  Datatype type;
  void operator()(std::monostate /*null*/) const { into.set_is_null(true); }
  void operator()(std::int64_t value) const {
    if (type == Datatype::int32)
      into.set_int_value(static_cast<std::uint32_t>(static_cast<std::int32_t>(value)));
    else
      into.set_long_value(static_cast<std::uint64_t>(value));
  }
  void operator()(double value) const { into.set_double_value(value); }
  void operator()(bool value) const { into.set_boolean_value(value); }
  void operator()(const std::string& value) const { into.set_string_value(value); }
};

void put_text(sparkplug_b::PropertySet& into, std::string_view key, const std::string& text) {
  into.add_keys(std::string{key});
  auto& value = *into.add_values();
  value.set_type(static_cast<std::uint32_t>(Datatype::text));
  value.set_string_value(text);
}

void put_quality(sparkplug_b::PropertySet& into, bool good) {
  into.add_keys("Quality");
  auto& value = *into.add_values();
  value.set_type(static_cast<std::uint32_t>(Datatype::int32));
  value.set_int_value(good ? quality_good : quality_bad);
}

sparkplug_b::Metric& put_metric(sparkplug_b::Payload& into, const Told& told) {
  auto& metric = *into.add_metrics();
  metric.set_name(told.definition->name);
  metric.set_timestamp(milliseconds_since_1970(told.sampled.at));
  put_quality(*metric.mutable_properties(), told.sampled.good);
  std::visit(PutValue{metric, told.definition->type}, told.sampled.value);
  return metric;
}

sparkplug_b::Payload payload_sent(WallTime sent) {
  sparkplug_b::Payload payload;
  payload.set_timestamp(milliseconds_since_1970(sent));
  return payload;
}

} // namespace

std::string birth_payload(const std::vector<Told>& metrics, std::uint8_t seq, WallTime sent) {
  auto payload = payload_sent(sent);
  payload.set_seq(seq);
  for (const auto& told : metrics) {
    auto& metric = put_metric(payload, told);
    metric.set_datatype(static_cast<std::uint32_t>(told.definition->type));
    if (!told.definition->unit.empty()) put_text(*metric.mutable_properties(), "unit", told.definition->unit);
  }
  return payload.SerializeAsString();
}

std::string data_payload(std::vector<Told> metrics, std::uint8_t seq, WallTime sent) {
  std::stable_sort(metrics.begin(), metrics.end(),
                   [](const Told& a, const Told& b) { return a.sampled.at < b.sampled.at; });
  auto payload = payload_sent(sent);
  payload.set_seq(seq);
  for (const auto& told : metrics) put_metric(payload, told);
  return payload.SerializeAsString();
}

std::string death_payload(std::uint8_t bd_seq, WallTime sent) {
  auto payload = payload_sent(sent);
  auto& metric = *payload.add_metrics();
  metric.set_name(std::string{bd_seq_name});
  metric.set_timestamp(milliseconds_since_1970(sent));
  metric.set_datatype(static_cast<std::uint32_t>(Datatype::int64));
  metric.set_long_value(bd_seq);
  return payload.SerializeAsString();
}

tl::expected<Command, std::string> read_command(std::string_view payload) {
  if (payload.size() > command_bytes_max) return tl::unexpected(std::string{"a command is never that long"});
  sparkplug_b::Payload read;
  if (!read.ParseFromArray(payload.data(), static_cast<int>(payload.size())))
    return tl::unexpected(std::string{"it is no payload of Sparkplug B"});
  Command command;
  for (const auto& metric : read.metrics()) {
    if (metric.name() == rebirth_name && metric.boolean_value()) {
      command.rebirth = true;
      continue;
    }
    if (command.others++ == 0) command.first_other = metric.name().substr(0, told_name_bytes_max);
  }
  return command;
}

} // namespace oxherd::daemon::sparkplug
