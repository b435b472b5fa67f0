#include "tests/simulation/drill/simulated_valve.hpp"

#include <algorithm>

namespace oxherd::drill {

void SimulatedValve::set_coil(bool on, Monotonic at) {
  if (faults_.coil_stuck || on == coil_) return;
  coil_ = on;
  coil_since_ = at;
}

void SimulatedValve::befall(const Faults& faults, Monotonic now) {
  if (faults == faults_) return;
  advance_to(now);
  faults_ = faults;
  advance_to(now);
}

void SimulatedValve::reboot(Monotonic now) {
  set_coil(false, now);
  advance_to(now);
}

void SimulatedValve::advance_to(Monotonic now) {
  if (coil_ && now - written_at_ >= module_time_out) set_coil(false, written_at_ + module_time_out);
  if (open_ != coil_ && !faults_.valve_stuck && now >= coil_since_ + faults_.late) open_ = coil_;
}

std::optional<Monotonic> SimulatedValve::due() const {
  std::optional<Monotonic> next;
  if (coil_ && !faults_.coil_stuck) next = written_at_ + module_time_out;
  if (open_ != coil_ && !faults_.valve_stuck)
    next = std::min(next.value_or(Monotonic::max()), coil_since_ + faults_.late);
  return next;
}

daemon::WriteResult SimulatedValve::write(const daemon::OutputWrite& what, Monotonic now) {
  advance_to(now);
  daemon::WriteResult result{.output = what.output, .value = what.value};
  if (faults_.silent) {
    result.error = drivers::BusError{drivers::BusFault::timeout, 0, "no reply from the device"};
    return result;
  }
  written_at_ = now;
  set_coil(what.value != 0, now);
  advance_to(now);
  result.held = coil_ ? 1U : 0U;
  if (what.contact) result.contact = open_;
  return result;
}

} // namespace oxherd::drill
