#include "alarms/chatter.hpp"

#include <algorithm>

namespace oxherd::alarms {

Chatter after_occurrence(Chatter chatter, Monotonic now) {
  std::rotate(chatter.last.begin(), chatter.last.begin() + 1, chatter.last.end());
  chatter.last.back() = now;
  const auto& third_last = chatter.last.front();
  if (third_last && now - *third_last <= chatter_window) chatter.chattering = true;
  return chatter;
}

Chatter after_quiet(Chatter chatter, Monotonic now) {
  const auto& latest = chatter.last.back();
  if (chatter.chattering && (!latest || now - *latest >= chatter_quiet)) chatter = {};
  return chatter;
}

} // namespace oxherd::alarms
