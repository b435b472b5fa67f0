#include "daemon/control/loop_run.hpp"

#include <utility>

#include <fmt/core.h>

namespace oxherd::daemon {

using config::LoopMethod;
using control::Wish;

LoopRun::LoopRun(config::Loop settings, control::Locality locality)
    : settings_{std::move(settings)}, locality_{std::move(locality)}, set_point_{settings_.set_point},
      performance_{settings_} {}

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

/// The controller follows meanwhile, so that it takes over without a bump when the experiment is over.
std::optional<Wish> LoopRun::tune(Monotonic now) {
  const auto output = tuning_->step(reading_, set_point_, now);
  if (!output) {
    go_on_after_tuning();
    return std::nullopt;
  }
  control::PidInput input{*reading_.value, *set_point_};
  input.by_hand = tuning_->goes_on_from;
  auto step = control::next(settings_.pid, std::move(pid_), input, now);
  pid_ = std::move(step.state);
  parts_ = step.parts;
  demand_ = *output;
  return Wish{output, fmt::format("{} tunes the loop: {} is {}, made to swing around {}", tuning_->by,
                                  control::name_of(settings_.holds), text_of(settings_.holds, *reading_.value),
                                  text_of(settings_.holds, *set_point_))};
}

std::optional<Wish> LoopRun::evaluate(const LoopInput& in, Monotonic now, WallTime wall) {
  reading_ = in.reading;
  follow_program(now, wall);
  if (is_tuned())
    if (auto wish = tune(now)) return wish;
  if (!set_point_) return std::nullopt;
  const auto name = control::name_of(settings_.holds);
  if (!reading_.value) return Wish{{}, fmt::format("{} is not known: {}", name, reading_.trouble)};
  const auto output = output_of(in, now);
  return Wish{output, fmt::format("{} is {}, to be held at {}", name, text_of(settings_.holds, *reading_.value),
                                  text_of(settings_.holds, *set_point_))};
}

std::string LoopRun::begin_tuning(const TuningOrder& order, Monotonic now) {
  if (is_tuned()) return fmt::format("an experiment of {} is running: end it first, with \"end-tuning\"", tuning_->by);
  auto tuning = tuning_of(settings_, {reading_, set_point_, demand_}, order, now);
  if (!tuning) return tuning.error();
  tuning_ = std::move(*tuning);
  return {};
}

void LoopRun::end_tuning(std::string why, Monotonic now) {
  if (!is_tuned()) return;
  tuning_->end(std::move(why), now);
  go_on_after_tuning();
}

void LoopRun::go_on_after_tuning() {
  demand_ = tuning_->goes_on_from;
  stepped_.reset(); // the controller is due at once, and begins there
}

void LoopRun::see(bool decides, double driven, Monotonic now) {
  performance_.see(
      {set_point_, reading_.uncertain ? std::nullopt : reading_.value, demand_, driven, decides && !is_tuned()}, now);
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

void LoopRun::continue_from(const LoopRun& before, Monotonic now) {
  const bool same_kind = settings_.holds == before.settings_.holds && settings_.method == before.settings_.method &&
                         settings_.program.has_value() == before.settings_.program.has_value();
  if (!same_kind) return;
  on_off_ = before.on_off_;
  pid_ = before.pid_; // a change of its parameters moves nothing by itself
  pulses_ = before.pulses_;
  demand_ = before.demand_;
  if (settings_.pid == before.settings_.pid && settings_.on_off.on_beyond == before.settings_.on_off.on_beyond &&
      settings_.on_off.off_within == before.settings_.on_off.off_within)
    performance_ = before.performance_; // with other parameters it begins anew
  tuning_ = before.tuning_;
  end_tuning("the settings were loaded anew", now);
  if (settings_.program && settings_.program->index() == before.settings_.program->index())
    program_.state = before.program_.state;
}

} // namespace oxherd::daemon
