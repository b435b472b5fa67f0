#pragma once

#include <cstdint>
#include <string>
#include <variant>
#include <vector>

#include "daemon/records.hpp"

namespace oxherd::daemon::sparkplug {

/// Of the data types of Sparkplug B those that are used, with their numbers (6.4.16).
enum class Datatype : std::uint32_t { int32 = 3, int64 = 4, float64 = 10, boolean = 11, text = 12 };

/// Empty: there is no valid value, which goes out as `is_null`.
using Value = std::variant<std::monostate, std::int64_t, double, bool, std::string>;

/// What a birth says of a metric once.
struct Definition {
  std::string name; ///< levels joined by slashes
  Datatype type = Datatype::text;
  std::string unit; ///< as SenML names it (RFC 8428, 12.1); empty: it has none
  friend bool operator==(const Definition&, const Definition&) = default;
};

/// A value as a message carries it.
struct Sampled {
  Value value;
  WallTime at;
  bool good = false; ///< the quality is GOOD, else BAD (6.4.9.1)
};

/// What is said of a metric now; `urgent`: when it differs from before, it waits for nothing.
struct Said {
  Value value;
  bool good = false;
  bool urgent = false;
};
struct Named {
  std::string name;
  Said said;
};

/// What there is to be told of a room, fixed by the settings: a birth holds all that will ever be published.
struct RoomPlan {
  std::string room;
  std::vector<Definition> metrics;
  friend bool operator==(const RoomPlan&, const RoomPlan&) = default;
};
using Plan = std::vector<RoomPlan>;

} // namespace oxherd::daemon::sparkplug
