#pragma once

#include <chrono>
#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include <tl/expected.hpp>

// Sensor Measurement Lists (RFC 8428) in JSON, from whoever sends them. Pure.
namespace oxherd::daemon::collect {

/// Civil time of a sample, UTC.
using SampleTime = std::chrono::sys_time<std::chrono::microseconds>;

/// A record with its base fields worked in (RFC 8428, 4.6).
struct SenmlRecord {
  std::string name, unit; ///< the unit is empty where there is none
  SampleTime time;
  /// Absent in a record that has a sum only; binary data stays as it was sent, in base 64.
  std::variant<std::monostate, double, bool, std::string> value;
  std::optional<double> sum;
  friend bool operator==(const SenmlRecord&, const SenmlRecord&) = default;
};

/// Reads a pack. Unknown fields are passed over unless their label ends in "_" (12.3.1). A record of base fields alone
/// sets them and is none itself. Refused as a whole, with what is wrong in which record: what is not a pack, versions
/// above 10, a name that RFC 8428 4.5.1 does not allow, a record without a value or with several.
/// @param now  of times that are relative (4.5.3) or missing
/// @checked  tests/daemon/collect/senml_test.cpp, the examples of RFC 8428 section 5.1
[[nodiscard]] tl::expected<std::vector<SenmlRecord>, std::string> resolve_senml(std::string_view json, SampleTime now);

} // namespace oxherd::daemon::collect
