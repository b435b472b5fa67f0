#include "control/loops/on_off.hpp"

#include <cassert>
#include <cmath>

namespace oxherd::control {

OnOff symmetric(Effect effect, double half_band) { return {effect, half_band, -half_band}; }

std::string_view problem_of(const OnOff& rule) {
  if (!std::isfinite(rule.on_beyond) || !std::isfinite(rule.off_within)) return "the band is not a number";
  if (rule.on_beyond <= rule.off_within) return "it must switch on farther from the set-point than it switches off";
  return "";
}

OnOffStep next(const OnOff& rule, OnOffState state, const OnOffInput& in, Monotonic /*now*/) {
  assert(problem_of(rule).empty());
  if (!in.value || !std::isfinite(*in.value) || !std::isfinite(in.set_point)) return {state, std::nullopt};
  const double lacking = rule.effect == Effect::raises ? in.set_point - *in.value : *in.value - in.set_point;
  if (lacking >= rule.on_beyond) state.on = true;
  if (lacking <= rule.off_within) state.on = false;
  return {state, state.on};
}

} // namespace oxherd::control
