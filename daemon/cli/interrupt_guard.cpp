#include "daemon/cli/interrupt_guard.hpp"

namespace oxherd::daemon::cli {
namespace {

volatile std::sig_atomic_t interrupt_noted = 0;

void note_interrupt(int) { interrupt_noted = 1; }

} // namespace

InterruptGuard::InterruptGuard() {
  interrupt_noted = 0;
  struct sigaction act {};
  act.sa_handler = note_interrupt;
  for (std::size_t i = 0; i < signals.size(); ++i) sigaction(signals[i], &act, &before_[i]);
}

InterruptGuard::~InterruptGuard() {
  for (std::size_t i = 0; i < signals.size(); ++i) sigaction(signals[i], &before_[i], nullptr);
}

bool InterruptGuard::interrupted() { return interrupt_noted != 0; }

} // namespace oxherd::daemon::cli
