#include "daemon/cli/interrupt_guard.hpp"

#include <iostream>
#include <span>

#include <poll.h>
#include <unistd.h>

namespace oxherd::daemon::cli {
namespace {

volatile std::sig_atomic_t interrupt_noted = 0;

void note_interrupt(int) { interrupt_noted = 1; }

/// Waits for input or a signal. The signals are blocked until the wait itself lets them in: between a look at the note
/// and a read that then blocks, one would be noted by nobody.
void wait_for_input(std::span<const int> signals) {
  sigset_t noted, before;
  sigemptyset(&noted);
  for (const int signal : signals) sigaddset(&noted, signal);
  pthread_sigmask(SIG_BLOCK, &noted, &before);
  if (interrupt_noted == 0) {
    pollfd input{STDIN_FILENO, POLLIN, 0};
    static_cast<void>(ppoll(&input, 1, nullptr, &before));
  }
  pthread_sigmask(SIG_SETMASK, &before, nullptr);
}

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

bool InterruptGuard::read_line(std::string& line) {
  // Of a terminal, a read takes one line; of a file or pipe it takes more, which no poll tells of.
  if (isatty(STDIN_FILENO) != 0) wait_for_input(signals);
  return !interrupted() && static_cast<bool>(std::getline(std::cin, line)) && !interrupted();
}

} // namespace oxherd::daemon::cli
