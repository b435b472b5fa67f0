#include <algorithm>
#include <cmath>
#include <iterator>

#include <fmt/format.h>

#include "control/programs/day_program.hpp"

namespace oxherd::control {
namespace {

using std::chrono::days;
using std::chrono::hours;

std::string words_of(const Anchor& anchor) {
  if (anchor.to == Anchor::To::clock) {
    const std::chrono::hh_mm_ss time{anchor.offset};
    return fmt::format("{:02}:{:02}", time.hours().count(), time.minutes().count());
  }
  const auto event = anchor.to == Anchor::To::sunrise ? "sunrise" : "sunset";
  if (anchor.offset.count() == 0) return event;
  return fmt::format("{} min {} {}", std::abs(anchor.offset.count()) / 60,
                     anchor.offset.count() < 0 ? "before" : "after", event);
}

void check_step(const DayStep& step, std::size_t number, const Locality& locality, std::vector<std::string>& problems) {
  const auto say = [&](std::string_view what) { problems.push_back(fmt::format("step {}: {}", number, what)); };
  const auto& [to, offset] = step.begins;
  if (to == Anchor::To::clock && (offset < hours{0} || offset >= hours{24}))
    say("the time of day is outside 00:00 to 23:59; write one within");
  if (to != Anchor::To::clock && std::chrono::abs(offset) > hours{6})
    say("more than 6 h from sunrise or sunset; write at most 6 h, or a time of day");
  if (to != Anchor::To::clock && !locality.place)
    say("sunrise and sunset need the latitude and longitude of the site; state them, or write a time of day");
  if (!std::isfinite(step.target)) say("the target is not a number");
  if (step.ramp.over < Monotonic{0} || step.ramp.over > hours{24})
    say("the ramp takes more than a day or less than none");
  if (step.ramp.most_per_h && !(*step.ramp.most_per_h > 0.0 && std::isfinite(*step.ramp.most_per_h)))
    say("the rate of the ramp must be above zero");
}

/// Steps of one kind must stand in the order of the day. How those of different kinds lie to each other changes with
/// the season.
void check_order(const std::vector<DayStep>& steps, std::vector<std::string>& problems) {
  for (std::size_t i = 1; i < steps.size(); ++i)
    for (std::size_t earlier = i; earlier-- > 0;) {
      const auto &a = steps[earlier].begins, &b = steps[i].begins;
      if (a.to != b.to) continue;
      if (a.offset >= b.offset)
        problems.push_back(
            fmt::format("step {} begins at {}, not after step {} at {}; list steps in the order of the day", i + 1,
                        words_of(b), earlier + 1, words_of(a)));
      break;
    }
}

constexpr std::chrono::local_days first_day{std::chrono::year{2028} / 1 / 1},
    last_day{std::chrono::year{2028} / 12 / 31};

void check_never(const DayProgram& program, const std::vector<Beginning>& year, std::vector<std::string>& problems) {
  for (std::size_t i = 0; i < program.steps.size(); ++i)
    if (std::ranges::none_of(year, [&](const Beginning& one) { return one.step == i; }))
      problems.push_back(
          fmt::format("step {} ({}) is overtaken by a later step on every day of the year; put it at its "
                      "place in the order of the day, or leave it out",
                      i + 1, words_of(program.steps[i].begins)));
}

/// At least once in 36 hours a ramp must have the time to end wherever it began, for that is how a program that is
/// joined knows where it stands.
void check_ends(const DayProgram& program, const std::vector<Beginning>& year, std::vector<std::string>& problems) {
  const auto [least, most] = std::ranges::minmax(program.steps, {}, &DayStep::target);
  auto ended = year.front().at;
  for (auto it = year.begin(); std::next(it) != year.end(); ++it) {
    const auto ramp = no_faster(program.steps[it->step].ramp, program.most_per_h);
    const bool ends = time_of(ramp, least.target, most.target) <= std::next(it)->at - it->at;
    if (ends) ended = std::next(it)->at;
    if (std::next(it)->at - ended <= hours{36}) continue;
    const auto date = std::chrono::year_month_day{std::chrono::floor<days>(it->at)};
    problems.push_back(
        fmt::format("no ramp of the day comes to its end (month {}, day {}): there is too little time before "
                    "the next step; write faster ramps or fewer steps",
                    static_cast<unsigned>(date.month()), static_cast<unsigned>(date.day())));
    return;
  }
}

} // namespace

std::vector<std::string> problems_of(const DayProgram& program, const Locality& locality) {
  std::vector<std::string> problems;
  if (program.steps.empty()) return {"there are no steps; write at least one"};
  for (std::size_t i = 0; i < program.steps.size(); ++i) check_step(program.steps[i], i + 1, locality, problems);
  if (program.most_per_h && !(*program.most_per_h > 0.0 && std::isfinite(*program.most_per_h)))
    problems.emplace_back("the greatest rate must be above zero");
  check_order(program.steps, problems);
  if (!problems.empty()) return problems;
  const auto year = beginnings_on(program, locality, first_day, last_day);
  check_never(program, year, problems);
  check_ends(program, year, problems);
  return problems;
}

} // namespace oxherd::control
