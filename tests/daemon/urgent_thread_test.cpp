#include "daemon/urgent_thread.hpp"

#include <thread>

#include <gtest/gtest.h>
#include <sched.h>
#include <sys/resource.h>
#include <sys/syscall.h>
#include <unistd.h>

namespace oxherd::daemon::urgent_thread_test {

int policy() { return ::sched_getscheduler(0) & ~SCHED_RESET_ON_FORK; }

bool may_be_urgent() {
  rlimit limit{};
  return ::geteuid() == 0 || (::getrlimit(RLIMIT_RTPRIO, &limit) == 0 && limit.rlim_cur > 0);
}

TEST(UrgentThread, RunsBeforeOrdinaryWorkAndWhatItStartsIsOrdinary) {
  if (!may_be_urgent()) GTEST_SKIP() << "not permitted here: set the limit of real-time priority to 1";
  std::thread{[] {
    EXPECT_TRUE(make_thread_urgent());
    EXPECT_EQ(policy(), SCHED_RR);
    std::thread{[] { EXPECT_EQ(policy(), SCHED_OTHER); }}.join();
  }}.join();
  EXPECT_EQ(policy(), SCHED_OTHER) << "no other thread of the program changed";
}

TEST(UrgentThread, GoesOnAsBeforeWhereThatIsNotPermitted) {
  rlimit limit{};
  ASSERT_EQ(::getrlimit(RLIMIT_RTPRIO, &limit), 0);
  if (limit.rlim_cur > 0) GTEST_SKIP() << "whoever runs this test may do so in any case";
  std::thread{[] {
    constexpr long nobody = 65534;
    // The system call itself, unlike the library's function, changes this thread alone.
    if (::geteuid() == 0) {
      ASSERT_EQ(::syscall(SYS_setresuid, nobody, nobody, nobody), 0);
    }
    EXPECT_FALSE(make_thread_urgent());
    EXPECT_EQ(policy(), SCHED_OTHER);
  }}.join();
}

} // namespace oxherd::daemon::urgent_thread_test
