#include "daemon/mqtt/retry_pause.hpp"

#include <gtest/gtest.h>

namespace oxherd::daemon {
namespace {

using namespace std::chrono_literals;

constexpr RetryPause::Clock::time_point retry_start{1h};

TEST(RetryPause, DoublesUpToTenSeconds) {
  RetryPause retry;
  for (const auto wanted : {250ms, 500ms, 1000ms, 2000ms, 4000ms, 8000ms, 10000ms, 10000ms})
    EXPECT_EQ(retry.next({}, retry_start), wanted);
}

TEST(RetryPause, BeginsAnewAfterAConnectionThatStood) {
  RetryPause retry;
  for (int i = 0; i < 3; ++i) static_cast<void>(retry.next({}, retry_start));
  EXPECT_EQ(retry.next(retry_start, retry_start + 4999ms), 2000ms) << "lost too soon to count";
  EXPECT_EQ(retry.next(retry_start, retry_start + 5s), 250ms);
  EXPECT_EQ(retry.next({}, retry_start), 500ms);
}

} // namespace
} // namespace oxherd::daemon
