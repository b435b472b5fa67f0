#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace oxherd::alarms {

/// Status categories of NAMUR NE 107, mildest first so that the gravest of several is the largest.
enum class Status { ok, maintenance_required, out_of_specification, function_check, failure };

/// Quality as OPC UA names it. good: ok or maintenance required. uncertain: out of specification. bad: the rest.
enum class Quality { good, uncertain, bad };

[[nodiscard]] Quality quality_of(Status status);
[[nodiscard]] Status graver(Status a, Status b);
[[nodiscard]] std::string_view name_of(Status status);                   ///< "maintenance_required", ...
[[nodiscard]] std::optional<Status> status_named(std::string_view name); ///< the inverse
[[nodiscard]] std::string_view name_of(Quality quality);                 ///< "good", "uncertain", "bad"

/// What a reason is about, for programs that must know it: its words are for people, and may change.
enum class ReasonKind {
  other,
  temperature_lost,          ///< the probe for the gas at the cell; another value was assumed
  humidity_lost,             ///< likewise
  humidity_temperature_lost, ///< the thermometer of a humidity probe that stands elsewhere
  pressure_lost,
  stuck ///< an input that gives one and the same number for too long
};
[[nodiscard]] std::string_view name_of(ReasonKind kind);                          ///< "other", "temperature_lost", ...
[[nodiscard]] std::optional<ReasonKind> reason_kind_named(std::string_view name); ///< the inverse

/// Why a value is not plainly good, in words for a person: "pressure probe lost: standard atmosphere used".
struct Reason {
  Status status = Status::ok;
  std::string text;
  ReasonKind kind = ReasonKind::other;
};

/// The gravest status of several reasons; ok when there is none.
[[nodiscard]] Status gravest(const std::vector<Reason>& reasons);

} // namespace oxherd::alarms
