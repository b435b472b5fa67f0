#pragma once

#include "alarms/rules/rule_input.hpp"

namespace oxherd::alarms {

/// What one step of a rule brought.
template <class State> struct Step {
  State state;
  Decision decision = Decision::hold;
};

} // namespace oxherd::alarms
