#pragma once

#include <map>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include <fmt/format.h>
#include <gtest/gtest.h>

#include "daemon/sparkplug/edge_node.hpp"
#include <sparkplug_b.pb.h>

/// What a subscriber makes of messages.
namespace oxherd::daemon::sparkplug_test {

using namespace std::chrono_literals;

inline WallTime at_second(int second) { return WallTime{std::chrono::seconds{1772352930 + second}}; }

inline sparkplug_b::Payload read(const std::string& bytes) {
  sparkplug_b::Payload payload;
  EXPECT_TRUE(payload.ParseFromString(bytes));
  return payload;
}

inline const sparkplug_b::Metric* find(const sparkplug_b::Payload& payload, const std::string& name) {
  for (const auto& metric : payload.metrics())
    if (metric.name() == name) return &metric;
  return nullptr;
}

/// The Quality of a metric; absent when it has none.
inline std::optional<unsigned> quality(const sparkplug_b::Metric& metric) {
  for (int i = 0; i < metric.properties().keys_size(); ++i)
    if (metric.properties().keys(i) == "Quality" && metric.properties().values(i).type() == 3)
      return metric.properties().values(i).int_value();
  return std::nullopt;
}

/// "name=value" in a payload's order; a number with two digits, "null" for is_null.
inline std::string words(const sparkplug_b::Metric& metric) {
  const auto value = [&]() -> std::string {
    if (metric.is_null()) return "null";
    switch (metric.value_case()) {
    case sparkplug_b::Metric::kDoubleValue: return fmt::format("{:.2f}", metric.double_value());
    case sparkplug_b::Metric::kBooleanValue: return metric.boolean_value() ? "true" : "false";
    case sparkplug_b::Metric::kStringValue: return metric.string_value();
    case sparkplug_b::Metric::kIntValue: return std::to_string(metric.int_value());
    case sparkplug_b::Metric::kLongValue: return std::to_string(metric.long_value());
    default: return "nothing";
    }
  }();
  return metric.name() + "=" + value;
}
inline std::vector<std::string> words(const std::string& bytes) {
  std::vector<std::string> list;
  const auto payload = read(bytes);
  for (const auto& metric : payload.metrics()) list.push_back(words(metric));
  return list;
}

} // namespace oxherd::daemon::sparkplug_test
