#include "control/programs/elapsed_program.hpp"

#include <cmath>

#include <fmt/format.h>

namespace oxherd::control {

Monotonic duration_of(const ElapsedProgram& program, double from) {
  Monotonic whole{0};
  for (const auto& step : program.steps) {
    whole += time_of(no_faster(step.ramp, program.most_per_h), from, step.target) + step.soak;
    from = step.target;
  }
  return whole;
}

SetPoint set_point_at(const ElapsedProgram& program, const Run& run) {
  double from = run.from;
  Monotonic begin{0};
  for (std::size_t i = 0;; ++i) {
    const auto& step = program.steps[i];
    const auto ramp = no_faster(step.ramp, program.most_per_h);
    const auto end = begin + time_of(ramp, from, step.target) + step.soak;
    const bool last = i + 1 == program.steps.size();
    if (run.done >= end && !last) {
      begin = end;
      from = step.target;
      continue;
    }
    const auto motion = motion_at(ramp, from, step.target, run.done - begin);
    SetPoint point{.value = motion.value,
                   .rate_per_h = motion.rate_per_h,
                   .step = i,
                   .target = step.target,
                   .ramp_left = motion.left,
                   .next = {}};
    if (!last) point.next = Upcoming{i + 1, program.steps[i + 1].target, end - run.done};
    return point;
  }
}

Run advanced(Run run, Monotonic now) {
  if (run.phase == Run::Phase::running) run.done += now - run.seen;
  run.seen = now;
  return run;
}

bool bearable(const ElapsedProgram& program, std::optional<Monotonic> outage) {
  return outage && *outage >= Monotonic{0} && *outage <= program.outage_most;
}

Run after_outage(const ElapsedProgram& program, Run run, std::optional<Monotonic> outage, std::optional<double> present,
                 Monotonic now) {
  run.seen = now;
  if (run.phase != Run::Phase::running || run.done >= duration_of(program, run.from)) return run;
  if (!bearable(program, outage)) {
    run.phase = Run::Phase::stopped_by_outage;
    return run;
  }
  switch (program.after_outage) {
  case AfterOutage::go_on: break;
  case AfterOutage::join: run.done += outage.value_or(Monotonic{0}); break;
  case AfterOutage::restart:
    run.from = present.value_or(set_point_at(program, run).value);
    run.done = Monotonic{0};
    break;
  case AfterOutage::stop: run.phase = Run::Phase::stopped_by_outage; break;
  }
  return run;
}

std::vector<std::string> problems_of(const ElapsedProgram& program) {
  std::vector<std::string> problems;
  if (program.steps.empty()) problems.emplace_back("there are no steps; write at least one");
  const auto bad_rate = [](const std::optional<double>& rate) {
    return rate && !(*rate > 0.0 && std::isfinite(*rate));
  };
  for (std::size_t i = 0; i < program.steps.size(); ++i) {
    const auto& step = program.steps[i];
    const auto say = [&](std::string_view what) { problems.push_back(fmt::format("step {}: {}", i + 1, what)); };
    if (!std::isfinite(step.target)) say("the target is not a number");
    if (step.ramp.over < Monotonic{0}) say("the ramp takes less than no time");
    if (step.soak < Monotonic{0}) say("the soak takes less than no time");
    if (bad_rate(step.ramp.most_per_h)) say("the rate of the ramp must be above zero");
  }
  if (bad_rate(program.most_per_h)) problems.emplace_back("the greatest rate must be above zero");
  if (program.outage_most < Monotonic{0}) problems.emplace_back("the longest outage is less than no time");
  return problems;
}

} // namespace oxherd::control
