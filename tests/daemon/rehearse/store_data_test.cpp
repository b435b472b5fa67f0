// Readings of the store as samples.
#include <limits>

#include "daemon/rehearse/store_data.hpp"
#include "tests/daemon/rehearse/rehearsed_room.hpp"
#include "tests/daemon/store/store_fixture.hpp"

namespace oxherd::daemon::rehearse_store_test {

using namespace std::chrono_literals;

ReadingRecord oxygen_at(WallTime at, double u_dry, double po2_Pa) {
  auto reading = store_test::reading_at(at, 0.0119, "cell-a", "annexe");
  reading.status = alarms::Status::ok;
  auto& oxygen = reading.oxygen.emplace();
  oxygen.dry = DryFraction::from_si(0.208);
  oxygen.u_dry = u_dry;
  oxygen.po2 = OxygenPartialPressure::from_si(po2_Pa);
  oxygen.u_po2_Pa = 100.0;
  return reading;
}

// The store keeps nothing in place of what is not a finite number.
TEST(StoreData, TakesAReadingForBadThatHasLostItsUncertaintyOrItsPartialPressure) {
  constexpr double none = std::numeric_limits<double>::infinity();
  const store_test::ScratchDir dir;
  {
    const auto store = store_test::open_store(dir.path());
    ASSERT_TRUE(store);
    store->reading(oxygen_at(store_test::morning, 0.001, 20100.0));
    store->reading(oxygen_at(store_test::morning + 1s, none, 20100.0));
    store->reading(oxygen_at(store_test::morning + 2s, 0.001, none));
  }
  const auto rules = rehearse_test::rules_with(rehearse_test::low_oxygen);
  auto data = rehearse::StoreData::open(
      dir.path(), {rules.settings.rooms, {}, {}, store_test::morning, store_test::morning + 1min});
  ASSERT_TRUE(data) << data.error().what;
  ASSERT_EQ((*data)->channels().size(), 1U);
  EXPECT_TRUE((*data)->channels().front().has_po2);
  std::vector<rehearse::Sample> samples;
  rehearse::SamplesAt at;
  while ((*data)->next(at).value()) samples.push_back(at.samples.front());
  ASSERT_EQ(samples.size(), 3U);
  EXPECT_EQ(samples[0].value, 0.208);
  EXPECT_EQ(samples[0].po2_Pa, 20100.0);
  EXPECT_FALSE(samples[1].value);
  EXPECT_FALSE(samples[2].value);
  EXPECT_EQ(samples[1].reason, "no value recorded, or none that is whole");
  EXPECT_EQ((*data)->notes().bad_samples, 2U);
}

} // namespace oxherd::daemon::rehearse_store_test
