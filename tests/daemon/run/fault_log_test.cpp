#include <gtest/gtest.h>

#include "daemon/run/fault_log.hpp"

namespace oxherd::daemon::fault_log_test {

TEST(FaultLog, SaysTheFirstFailureAndTheRecoveryWithTheCountOfRepeats) {
  FaultLog log;
  EXPECT_FALSE(log.note("sensor a/b", std::nullopt)) << "nothing to recover from";
  EXPECT_EQ(log.note("sensor a/b", "no reply"), "sensor a/b: no reply");
  EXPECT_FALSE(log.note("sensor a/b", "no reply"));
  EXPECT_FALSE(log.note("sensor a/b", "no reply again"));
  EXPECT_TRUE(log.failing("sensor a/b"));
  EXPECT_EQ(log.note("sensor a/b", std::nullopt), "sensor a/b: recovered after 3 failures (no reply)");
  EXPECT_FALSE(log.failing("sensor a/b"));
}

TEST(FaultLog, KeepsFaultsOfDifferentThingsApart) {
  FaultLog log;
  EXPECT_TRUE(log.note("output x", "refused"));
  EXPECT_EQ(log.note("output y", "refused"), "output y: refused");
  EXPECT_FALSE(log.note("output z", std::nullopt));
}

} // namespace oxherd::daemon::fault_log_test
