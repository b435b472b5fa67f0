#include "control/programs/program.hpp"

#include <algorithm>
#include <cmath>

namespace oxherd::control {
namespace {

/// The state up to now: a hold whose time is over has ended when it was over, whenever that is noticed.
ProgramState up_to(ProgramState state, Monotonic now) {
  if (state.hold && state.hold->until && now >= *state.hold->until) {
    if (state.run) state.run->seen = *state.hold->until;
    state.hold.reset();
  }
  if (!state.run) return state;
  if (state.hold)
    state.run->seen = now;
  else
    state.run = advanced(*state.run, now);
  return state;
}

ProgramPhase phase_of(const Program& program, const ProgramState& state) {
  const auto* elapsed = std::get_if<ElapsedProgram>(&program);
  if (elapsed && !state.run) return ProgramPhase::waiting;
  if (state.hold) return ProgramPhase::held;
  if (!elapsed) return ProgramPhase::following;
  switch (state.run->phase) {
  case Run::Phase::running: break;
  case Run::Phase::stopped: return ProgramPhase::stopped;
  case Run::Phase::stopped_by_outage: return ProgramPhase::stopped_by_outage;
  }
  return state.run->done >= duration_of(*elapsed, state.run->from) ? ProgramPhase::finished : ProgramPhase::following;
}

bool known(const std::optional<double>& value) { return value && std::isfinite(*value); }

/// What is given out: what the program says or, with a greatest rate, what can be reached of it by now.
double within_rate(double wanted, const std::optional<double>& most_per_h, const ProgramState& state,
                   const ProgramInput& in) {
  if (!most_per_h) return wanted;
  if (!state.given) return known(in.process_value) ? *in.process_value : wanted;
  return moved(*state.given, wanted, *most_per_h, in.now - state.given_at);
}

} // namespace

ProgramOutput next(const Program& program, ProgramState state, const Locality& locality, const ProgramInput& in) {
  state = up_to(std::move(state), in.now);
  const auto phase = phase_of(program, state);
  if (phase == ProgramPhase::waiting) return {std::move(state), phase, {}, 0.0};

  const auto* day = std::get_if<DayProgram>(&program);
  const auto& most_per_h = day ? day->most_per_h : std::get<ElapsedProgram>(program).most_per_h;
  SetPoint point =
      day ? set_point_at(*day, locality, in.wall) : set_point_at(std::get<ElapsedProgram>(program), *state.run);
  if (state.hold) point.value = state.hold->value;
  if (phase != ProgramPhase::following) point.rate_per_h = 0.0;

  const double wanted = point.value;
  point.value = within_rate(wanted, most_per_h, state, in);
  if (point.value != wanted) point.rate_per_h = std::copysign(*most_per_h, wanted - point.value);
  // Without a process value there is nowhere to begin: that is settled once there is one.
  if (state.given || known(in.process_value) || !most_per_h) {
    state.given = point.value;
    state.given_at = in.now;
  }
  return {std::move(state), phase, point, wanted};
}

ProgramState started(ProgramState state, double from, Monotonic now) {
  state.hold.reset();
  state.run = Run{.phase = Run::Phase::running, .from = from, .done = Monotonic{0}, .seen = now};
  return state;
}

ProgramState held(ProgramState state, double value, Monotonic now, std::optional<Monotonic> duration) {
  state = up_to(std::move(state), now);
  state.hold = Hold{value, {}};
  if (duration) state.hold->until = now + *duration;
  return state;
}

ProgramState resumed(ProgramState state, Monotonic now) {
  state = up_to(std::move(state), now);
  state.hold.reset();
  if (state.run) state.run->phase = Run::Phase::running;
  return state;
}

ProgramState stopped(ProgramState state, Monotonic now) {
  state = up_to(std::move(state), now);
  state.hold.reset();
  if (state.run) state.run->phase = Run::Phase::stopped;
  return state;
}

ProgramState after_outage(const Program& program, ProgramState state, std::optional<Monotonic> outage,
                          std::optional<double> present, Monotonic now) {
  state.given.reset();
  const auto* elapsed = std::get_if<ElapsedProgram>(&program);
  if (!elapsed || !state.run) return state;
  if (state.hold && state.hold->until && now >= *state.hold->until) {
    // It would have gone on only then. An outage that is too long to be borne stays so.
    if (outage && bearable(*elapsed, outage)) outage = std::min(*outage, now - *state.hold->until);
    state.hold.reset();
  }
  const bool time_stands = state.hold && bearable(*elapsed, outage);
  if (time_stands)
    state.run->seen = now;
  else
    state.run = after_outage(*elapsed, *state.run, outage, present, now);
  return state;
}

} // namespace oxherd::control
