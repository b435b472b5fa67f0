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
  if (!elapsed) return state.hold ? ProgramPhase::held : ProgramPhase::following;
  if (!state.run) return ProgramPhase::waiting;
  if (state.hold) return ProgramPhase::held;
  switch (state.run->phase) {
  case Run::Phase::running: break;
  case Run::Phase::stopped: return ProgramPhase::stopped;
  case Run::Phase::stopped_by_outage: return ProgramPhase::stopped_by_outage;
  }
  return state.run->done >= duration_of(*elapsed, state.run->from) ? ProgramPhase::finished : ProgramPhase::following;
}

/// What the program says for now; empty while it waits for a person.
std::optional<SetPoint> point_of(const Program& program, const ProgramState& state, const Locality& locality,
                                 WallTime wall) {
  if (const auto* day = std::get_if<DayProgram>(&program)) return set_point_at(*day, locality, wall);
  if (!state.run) return {};
  return set_point_at(std::get<ElapsedProgram>(program), *state.run);
}

std::optional<double> most_per_h_of(const Program& program) {
  return std::visit([](const auto& one) { return one.most_per_h; }, program);
}

} // namespace

ProgramOutput next(const Program& program, ProgramState state, const Locality& locality, const ProgramInput& in) {
  state = up_to(state, in.now);
  auto point = point_of(program, state, locality, in.wall);
  const auto phase = phase_of(program, state);
  if (!point) return {state, phase, {}, 0.0};
  if (state.hold) point->value = state.hold->value;
  if (phase != ProgramPhase::following) point->rate_per_h = 0.0;

  const double wanted = point->value;
  if (const auto most = most_per_h_of(program)) {
    const bool known = in.process_value && std::isfinite(*in.process_value);
    if (!state.given && !known) return {state, phase, point, wanted}; // it begins once there is a process value
    point->value =
        state.given ? moved(*state.given, wanted, *most, in.now - state.given_at) : in.process_value.value_or(wanted);
    if (point->value != wanted) point->rate_per_h = std::copysign(*most, wanted - point->value);
  }
  state.given = point->value;
  state.given_at = in.now;
  return {state, phase, point, wanted};
}

ProgramState started(ProgramState state, double from, Monotonic now) {
  state.hold.reset();
  state.run = Run{.phase = Run::Phase::running, .from = from, .done = Monotonic{0}, .seen = now};
  return state;
}

ProgramState held(ProgramState state, double value, Monotonic now, std::optional<Monotonic> duration) {
  state = up_to(state, now);
  state.hold = Hold{value, {}};
  if (duration) state.hold->until = now + *duration;
  return state;
}

ProgramState resumed(ProgramState state, Monotonic now) {
  state = up_to(state, now);
  state.hold.reset();
  if (state.run) state.run->phase = Run::Phase::running;
  return state;
}

ProgramState stopped(ProgramState state, Monotonic now) {
  state = up_to(state, now);
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
