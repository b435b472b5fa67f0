#include "daemon/cli/interrupt_guard.hpp"

#include <gtest/gtest.h>
#include <pty.h>
#include <unistd.h>

namespace oxherd::daemon::cli::interrupt_guard_test {

/// A terminal in place of standard input while it lives.
class Terminal {
public:
  Terminal() : before_{dup(STDIN_FILENO)} {
    int slave = -1;
    EXPECT_EQ(openpty(&master_, &slave, nullptr, nullptr, nullptr), 0);
    dup2(slave, STDIN_FILENO);
    close(slave);
  }
  ~Terminal() {
    dup2(before_, STDIN_FILENO);
    close(before_);
    close(master_);
  }
  Terminal(const Terminal&) = delete;
  Terminal& operator=(const Terminal&) = delete;
  void type(const std::string& text) const {
    EXPECT_EQ(write(master_, text.data(), text.size()), ssize_t(text.size()));
  }

private:
  int before_, master_ = -1;
};

TEST(InterruptGuard, EndsAReadThatBeginsAfterTheSignalCame) {
  const Terminal terminal;
  const InterruptGuard guard;
  ASSERT_EQ(raise(SIGINT), 0);
  std::string line;
  EXPECT_FALSE(InterruptGuard::read_line(line)); // one that blocks is ended by the time limit of the test
  EXPECT_TRUE(InterruptGuard::interrupted());
}

TEST(InterruptGuard, ReadsALineFromATerminal) {
  const Terminal terminal;
  const InterruptGuard guard;
  terminal.type("larkfield\n");
  std::string line;
  EXPECT_TRUE(InterruptGuard::read_line(line));
  EXPECT_EQ(line, "larkfield");
}

} // namespace oxherd::daemon::cli::interrupt_guard_test
