// Quantiles of how long decisions take, held against the sorted values themselves.
#include <algorithm>
#include <cmath>
#include <random>
#include <vector>

#include <gtest/gtest.h>

#include "daemon/outputs/latency.hpp"

namespace oxherd::daemon::latency_test {

using std::chrono::microseconds;

TEST(Latency, HasNothingToSayBeforeTheFirstDecision) {
  EXPECT_EQ(Latency{}.count(), 0U);
  EXPECT_EQ(Latency{}.quantile(0.5), microseconds{0});
  EXPECT_EQ(Latency{}.longest(), microseconds{0});
}

TEST(Latency, IsRightToATenthFromAMicrosecondToAnHour) {
  std::mt19937_64 engine{1};
  std::lognormal_distribution<double> spread{7.0, 3.0};
  Latency latency;
  std::vector<microseconds> all;
  for (int i = 0; i < 10000; ++i) {
    all.emplace_back(static_cast<microseconds::rep>(std::clamp(spread(engine), 1.0, 3.6e9)));
    latency.add(all.back());
  }
  std::ranges::sort(all);
  for (const double q : {0.01, 0.5, 0.9, 0.99, 0.999}) {
    const auto exact = all[static_cast<std::size_t>(std::ceil(q * 10000.0)) - 1];
    EXPECT_GE(latency.quantile(q), exact) << q;
    EXPECT_LE(static_cast<double>(latency.quantile(q).count()), 1.1 * static_cast<double>(exact.count()) + 1.0) << q;
  }
  EXPECT_EQ(latency.longest(), all.back());
  EXPECT_EQ(latency.quantile(1.0), all.back());
  EXPECT_EQ(latency.count(), 10000U);
}

TEST(Latency, CountsExactlyWhatIsWithinEachBound) {
  Latency latency;
  for (const int us : {200, 250, 251, 1000, 1001, 6'000'000}) latency.add(microseconds{us});
  const auto& within = latency.within();
  EXPECT_EQ(within[0], 2U) << "250 us";
  EXPECT_EQ(within[1], 3U) << "500 us";
  ASSERT_EQ(Latency::bounds[2], std::chrono::milliseconds{1});
  EXPECT_EQ(within[2], 4U);
  EXPECT_EQ(within[3], 5U) << "2.5 ms";
  EXPECT_EQ(within.back(), 5U) << "5 s";
  EXPECT_EQ(latency.total(), microseconds{6'002'702});
}

TEST(Latency, KeepsWhatIsOutsideItsClasses) {
  Latency latency;
  latency.add(microseconds{0});
  latency.add(std::chrono::hours{30});
  EXPECT_EQ(latency.count(), 2U);
  EXPECT_EQ(latency.longest(), std::chrono::hours{30});
}

} // namespace oxherd::daemon::latency_test
