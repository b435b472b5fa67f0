#pragma once

#include <span>
#include <string_view>

namespace oxherd::alarms {

/// One kind of rule, for help texts and messages; in the order of the alternatives of `Rule`.
struct RuleKind {
  std::string_view name;
  std::string_view help;
};

[[nodiscard]] std::span<const RuleKind> rule_catalogue();

} // namespace oxherd::alarms
