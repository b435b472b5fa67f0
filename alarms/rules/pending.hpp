#pragma once

#include "alarms/rules/rule.hpp"

namespace oxherd::alarms {

/// Takes over an on-delay that runs, of a limit or of not-monitored: settings that are read again and again must not
/// put an alarm off. It ends by the new rule's own vote and delay. For a state on the same clock.
/// @checked tests/simulation/drill/main.cpp, once_failed
void keep_pending(const Rule& rule, RuleState& state, const Rule& before, const RuleState& state_before);

} // namespace oxherd::alarms
