#include "drivers/exact_wait.hpp"

#include <thread>

#include <gtest/gtest.h>
#include <poll.h>
#include <sys/eventfd.h>

namespace oxherd::drivers::exact_wait_test {

using namespace std::chrono_literals;
using std::chrono::steady_clock;

TEST(WakeUpDelay, TakesALateWakeUpAtOnceAndForgetsItSlowly) {
  WakeUpDelay delay;
  for (int i = 0; i < 200; ++i) delay.note(8us);
  EXPECT_LT(delay.margin(), 11us);
  EXPECT_GE(delay.margin(), 10us) << "a quarter more than was seen";
  delay.note(60us);
  EXPECT_EQ(delay.margin(), 75us);
  delay.note(8us);
  EXPECT_GT(delay.margin(), 70us);
}

TEST(WakeUpDelay, StaysWithinItsBoundOnABusyMachine) {
  WakeUpDelay delay;
  delay.note(20ms);
  EXPECT_EQ(delay.margin(), WakeUpDelay::longest);
  delay.note(-1us); // clocks do not go back, but no wait may ever begin after its moment
  EXPECT_GE(delay.margin(), 0us);
  EXPECT_LE(delay.margin(), WakeUpDelay::longest);
}

TEST(WaitExactlyUntil, NeverReturnsBeforeItsMoment) {
  const StopEvent stop;
  WakeUpDelay delay;
  for (const auto span : {0us, 20us, 300us, 2000us}) {
    const auto deadline = steady_clock::now() + span;
    EXPECT_EQ(wait_exactly_until(-1, 0, stop, deadline, delay), Waited::timed_out);
    EXPECT_GE(steady_clock::now(), deadline);
  }
}

TEST(WaitExactlyUntil, SeesWhatIsThereThoughItsMomentIsPast) {
  const StopEvent stop;
  const FileDescriptor event{::eventfd(1, 0)};
  WakeUpDelay delay;
  EXPECT_EQ(wait_exactly_until(event.get(), POLLIN, stop, steady_clock::now() - 1s, delay), Waited::ready);
  EXPECT_EQ(wait_exactly_until(event.get(), POLLIN, stop, steady_clock::now() + 10s, delay), Waited::ready);
}

TEST(WaitExactlyUntil, IsEndedByAStop) {
  StopEvent stop;
  WakeUpDelay delay;
  std::thread other{[&] { stop.set(); }};
  EXPECT_EQ(wait_exactly_until(-1, 0, stop, steady_clock::now() + 60s, delay), Waited::stopped);
  other.join();
}

} // namespace oxherd::drivers::exact_wait_test
