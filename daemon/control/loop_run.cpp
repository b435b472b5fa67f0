#include "daemon/control/loop_run.hpp"

#include <utility>

#include <fmt/core.h>

namespace oxherd::daemon {

using config::LoopMethod;
using control::Wish;

LoopRun::LoopRun(config::Loop settings, control::Locality locality)
    : settings_{std::move(settings)}, locality_{std::move(locality)}, set_point_{settings_.set_point} {}

void LoopRun::follow_program(Monotonic now, WallTime wall) {
  if (!settings_.program) return;
  program_ = control::next(*settings_.program, std::move(program_.state), locality_, {now, wall, reading_.value});
  set_point_ = program_.set_point ? std::optional{program_.set_point->value} : std::nullopt;
}

std::optional<double> LoopRun::output_of(const LoopInput& in, Monotonic now) {
  if (settings_.method == LoopMethod::on_off) {
    const auto step = control::next(settings_.on_off, on_off_, {reading_.value, *set_point_}, now);
    on_off_ = step.state;
    if (step.wanted) demand_ = *step.wanted ? 1.0 : 0.0;
    return step.wanted ? std::optional{demand_} : std::nullopt;
  }
  if (!stepped_ || now - *stepped_ >= settings_.every || in.decided_by_others) {
    stepped_ = now;
    control::PidInput input{*reading_.value, *set_point_, 0.0, reading_.uncertain || in.stands_by,
                            in.decided_by_others};
    if (settings_.known_load && in.lights == control::Truth::holds) input.feed_forward = settings_.known_load->output;
    auto step = control::next(settings_.pid, std::move(pid_), input, now);
    pid_ = std::move(step.state);
    parts_ = step.parts;
    if (step.output) demand_ = *step.output;
  }
  if (settings_.method == LoopMethod::continuous) return demand_;
  const auto pulse = control::next(settings_.pulses, pulses_, demand_, now);
  pulses_ = pulse.state;
  return pulse.on ? 1.0 : 0.0;
}

std::optional<Wish> LoopRun::evaluate(const LoopInput& in, Monotonic now, WallTime wall) {
  reading_ = in.reading;
  follow_program(now, wall);
  if (!set_point_) return std::nullopt;
  const auto name = control::name_of(settings_.holds);
  if (!reading_.value) return Wish{{}, fmt::format("{} is not known: {}", name, reading_.trouble)};
  const auto output = output_of(in, now);
  return Wish{output, fmt::format("{} is {}, to be held at {}", name, text_of(settings_.holds, *reading_.value),
                                  text_of(settings_.holds, *set_point_))};
}

bool LoopRun::act(ProgramAct act, std::optional<Monotonic> duration, Monotonic now) {
  if (!settings_.program) return false;
  auto& state = program_.state;
  const bool elapsed = std::holds_alternative<control::ElapsedProgram>(*settings_.program);
  switch (act) {
  case ProgramAct::start:
    if (!elapsed || !(set_point_ || reading_.value)) return false;
    state = control::started(std::move(state), set_point_.value_or(reading_.value.value_or(0.0)), now);
    return true;
  case ProgramAct::stop:
    if (!elapsed || !state.run) return false;
    state = control::stopped(std::move(state), now);
    return true;
  case ProgramAct::hold:
    if (!set_point_) return false;
    state = control::held(std::move(state), *set_point_, now, duration);
    return true;
  case ProgramAct::resume: state = control::resumed(std::move(state), now); return true;
  }
  return false;
}

void LoopRun::restore(control::ProgramState state, std::optional<Monotonic> outage, Monotonic now) {
  if (settings_.program)
    program_.state = control::after_outage(*settings_.program, std::move(state), outage, reading_.value, now);
}

void LoopRun::continue_from(const LoopRun& before) {
  const bool same_kind = settings_.holds == before.settings_.holds && settings_.method == before.settings_.method &&
                         settings_.program.has_value() == before.settings_.program.has_value();
  if (!same_kind) return;
  on_off_ = before.on_off_;
  pid_ = before.pid_; // a change of its parameters moves nothing by itself
  pulses_ = before.pulses_;
  demand_ = before.demand_;
  if (settings_.program && settings_.program->index() == before.settings_.program->index())
    program_.state = before.program_.state;
}

} // namespace oxherd::daemon
