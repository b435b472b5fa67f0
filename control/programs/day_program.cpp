#include "control/programs/day_program.hpp"

#include <algorithm>
#include <cassert>

namespace oxherd::control {
namespace {

using std::chrono::days;
using std::chrono::local_days;

/// The days before today from which a program is followed. problems_of demands that a ramp comes to its end every 36
/// hours. The first may have begun before these days; after the second it does not matter where the set-point is taken
/// to begin.
constexpr days look_back{3};

/// The solar day whose noon is on this local date. Where civil time is far from the sun's, the date of the mean solar
/// time may be another one.
SunDay sun_of(const Locality& locality, local_days date) {
  assert(locality.place); // problems_of demands it
  const std::chrono::sys_days same_name{date.time_since_epoch()};
  const auto sun = sun_on(*locality.place, same_name);
  const auto noon_date = std::chrono::floor<days>(local_time(locality.offset_at, sun.noon));
  return noon_date == date ? sun : sun_on(*locality.place, same_name + (date - noon_date));
}

/// The beginnings of one date in the order of the list, overtaken ones included.
std::vector<Beginning> all_of(const DayProgram& program, const Locality& locality, local_days date) {
  std::vector<Beginning> all;
  std::optional<SunDay> sun;
  for (std::size_t i = 0; i < program.steps.size(); ++i) {
    const auto& begins = program.steps[i].begins;
    if (begins.to == Anchor::To::clock) {
      all.push_back({first_instant_of(locality.offset_at, date + begins.offset), i});
      continue;
    }
    if (!sun) sun = sun_of(locality, date);
    all.push_back({(begins.to == Anchor::To::sunrise ? sun->sunrise : sun->sunset) + begins.offset, i});
  }
  return all;
}

} // namespace

std::vector<Beginning> beginnings_on(const DayProgram& program, const Locality& locality, local_days first,
                                     local_days last) {
  std::vector<Beginning> kept; // from the last one back
  auto later = WallTime::max();
  for (auto date = last + days{1}; date >= first; date -= days{1}) { // the day after may overtake the last one
    const auto all = all_of(program, locality, date);
    for (auto it = all.rbegin(); it != all.rend(); ++it) {
      if (it->at >= later) continue;
      later = it->at;
      if (date <= last) kept.push_back(*it);
    }
  }
  std::reverse(kept.begin(), kept.end());
  return kept;
}

SetPoint set_point_at(const DayProgram& program, const Locality& locality, WallTime now) {
  const auto& steps = program.steps;
  const auto today = std::chrono::floor<days>(local_time(locality.offset_at, now));
  const auto all = beginnings_on(program, locality, today - look_back, today + days{2});
  double from = steps[(all.front().step + steps.size() - 1) % steps.size()].target;
  for (std::size_t i = 0;; ++i) {
    const auto& [at, index] = all[i];
    const auto& step = steps[index];
    const auto ramp = no_faster(step.ramp, program.most_per_h);
    const auto& next = all[i + 1];
    if (next.at <= now) {
      from = motion_at(ramp, from, step.target, next.at - at).value;
      continue;
    }
    const auto motion = motion_at(ramp, from, step.target, now - at);
    return {.value = motion.value,
            .rate_per_h = motion.rate_per_h,
            .step = index,
            .target = step.target,
            .ramp_left = motion.left,
            .next = Upcoming{next.step, steps[next.step].target, next.at - now}};
  }
}

} // namespace oxherd::control
