#include "alarms/rules/catalogue.hpp"

#include <array>
#include <variant>

#include "alarms/alarm.hpp"

namespace oxherd::alarms {

namespace {
constexpr std::array rule_kinds{
    RuleKind{"limit", "a voted quantity beyond a limit, judged at the unfavourable end of its uncertainty"},
    RuleKind{"not-monitored", "too few good channels, stale samples or too wide an uncertainty to judge the room by"},
    RuleKind{"rate-of-fall", "a value that falls as fast as a limit per minute, beyond what its scatter explains"},
    RuleKind{"time-average", "an average over hours or minutes beyond a limit, as exposure limits are written"},
    RuleKind{"disagreement", "channels of one quantity further apart than a limit and than their uncertainties"},
    RuleKind{"degraded", "a vote that goes on with fewer good channels than it has"},
    RuleKind{"time-to-limit", "a limit that will soon be reached if the value goes on as it does"},
    RuleKind{"deviation", "a voted quantity away from its set point, to either side"},
    RuleKind{"door-open", "a door that has been open longer than permitted"},
    RuleKind{"output-lost", "an output that does not hold what it was told, or cannot be asked"},
    RuleKind{"control-tripped", "an actuator that an interlock has stopped until a person releases it"},
};
static_assert(rule_kinds.size() == std::variant_size_v<Rule>);
static_assert(std::variant_size_v<RuleState> == std::variant_size_v<Rule>);
} // namespace

std::span<const RuleKind> rule_catalogue() { return rule_kinds; }

} // namespace oxherd::alarms
