#include "daemon/notify/pending.hpp"

#include <gtest/gtest.h>

#include "tests/daemon/notify/people.hpp"

// Limits at once and the order are proposals of the project.
namespace oxherd::daemon::notify_test {

/// Parcels in the order in which they came; the key is the place.
class Waiting {
public:
  notify::Pending& add(const std::string& contact, unsigned tries = 0, bool urgent = true,
                       const std::string& route = "mail") {
    notify::Pending one;
    one.parcel.key = static_cast<std::int64_t>(all.size());
    one.parcel.route = route;
    one.parcel.contact = contact;
    one.parcel.tries = tries;
    one.parcel.urgent = urgent;
    all.push_back(one);
    return all.back();
  }
  std::vector<std::int64_t> begun(alarms::Monotonic now = 1h) {
    std::vector<std::int64_t> keys;
    for (const auto* one : to_begin(all, now)) keys.push_back(one->parcel.key);
    return keys;
  }
  std::deque<notify::Pending> all;
};
using Keys = std::vector<std::int64_t>;

TEST(NotifyPending, TriesFirstWhatWasTriedLeastSoThatDeadReceiversStarveNobody) {
  Waiting waiting;
  for (const auto* dead : {"okafor", "finch", "mori", "adeyemi"}) waiting.add(dead, 3);
  waiting.add("records", 0, false);
  waiting.add("tran");
  waiting.add("weiss", 1);
  EXPECT_EQ(waiting.begun(), (Keys{5, 6, 0, 1})) << "then the oldest, and what can wait comes last";
}

TEST(NotifyPending, LeavesHalfOfARouteToOtherContacts) {
  Waiting waiting;
  waiting.add("okafor").running = true;
  for (int i = 0; i < 3; ++i) waiting.add("okafor");
  waiting.add("okafor", 0, true, "hook");
  waiting.add("finch");
  EXPECT_EQ(waiting.begun(), (Keys{1, 4, 5})) << "two to one contact by one route, whatever runs by others";
  for (auto& one : waiting.all) one.running = true;
  EXPECT_TRUE(waiting.begun().empty());
  EXPECT_FALSE(notify::Slots{waiting.all}.have_room_for(waiting.all.front().parcel)) << "four by one route";
}

TEST(NotifyPending, BeginsNothingBeforeItsTime) {
  Waiting waiting;
  waiting.add("okafor", 1).next_try = 1h;
  EXPECT_TRUE(waiting.begun(1h - 1ms).empty());
  EXPECT_EQ(waiting.begun(1h), Keys{0});
}

TEST(NotifyPending, CountsWhatWasNeverTriedAsAFailureUnlessItsLineTakesMessages) {
  Waiting waiting;
  auto& one = waiting.add("okafor");
  one.taken = 10s;
  EXPECT_FALSE(starved_since(one, 0s, 60s, 70s - 1ms));
  EXPECT_EQ(starved_since(one, 0s, 60s, 70s), alarms::Monotonic{10s});
  EXPECT_FALSE(starved_since(one, 20s, 60s, 70s)) << "the line took a message at 20 s";
  one.running = true;
  EXPECT_FALSE(starved_since(one, 0s, 60s, 1h)) << "it is being tried";
  one.running = false;
  one.parcel.tries = 1;
  EXPECT_FALSE(starved_since(one, 0s, 60s, 1h)) << "its own failure counts";
}

TEST(NotifyPending, HasAnAgeThatTheCivilClockDoesNotChange) {
  notify::Parcel parcel;
  parcel.created = start_wall - 3h;
  const auto old = notify::left_over(parcel, {5min, start_wall});
  EXPECT_EQ(age_of(old, 6min), 3h + 1min);
  parcel.created = start_wall + 24h;
  EXPECT_EQ(age_of(notify::left_over(parcel, {5min, start_wall}), 6min), alarms::Monotonic{1min})
      << "written while the clock was ahead";
}

} // namespace oxherd::daemon::notify_test
