#include <utility> // before Asio: std::exchange

#include "daemon/run/survey.hpp"

#include <gtest/gtest.h>

#include "tests/daemon/room/annexe.hpp"

// How every room stands, without keeping the decision loop from anything.
namespace oxherd::daemon::survey_test {

struct Surveyed {
  explicit Surveyed(int rooms) {
    annexe_test::Annexe annexe;
    const auto room = annexe.settings.rooms[0];
    annexe.settings.rooms.clear();
    for (int i = 0; i < rooms; ++i) {
      annexe.settings.rooms.push_back(room);
      annexe.settings.rooms.back().name = "bay-" + std::to_string(i);
    }
    site.emplace(annexe.settings, annexe.calibrations, annexe.now, annexe.wall);
  }
  boost::asio::io_context loop;
  std::optional<Site> site;
};

TEST(ASurvey, GivesEveryRoomInOrder) {
  Surveyed of{300};
  Survey survey{of.loop, *of.site};
  Survey::Rooms got;
  survey.ask([&](Survey::Rooms rooms) { got = std::move(rooms); });
  EXPECT_FALSE(got) << "never within the call";
  of.loop.run();
  ASSERT_TRUE(got);
  ASSERT_EQ(got->size(), 300U);
  EXPECT_EQ(got->front().room, "bay-0");
  EXPECT_EQ(got->back().room, "bay-299");
}

TEST(ASurvey, LetsTheLoopDoOtherThingsMeanwhile) {
  Surveyed of{1000};
  Survey survey{of.loop, *of.site};
  bool done = false;
  survey.ask([&](const Survey::Rooms&) { done = true; });
  int between = 0;
  while (!done) {
    ASSERT_EQ(of.loop.run_one(), 1U);
    ++between;
  }
  EXPECT_GT(between, 3) << "a thousand rooms take more than a tenth of a millisecond, so there are slices";
}

TEST(ASurvey, ServesWhoAsksDuringItWithTheNextOne) {
  Surveyed of{1000};
  Survey survey{of.loop, *of.site};
  Survey::Rooms first, second, third;
  survey.ask([&](Survey::Rooms rooms) { first = std::move(rooms); });
  of.loop.run_one();
  survey.ask([&](Survey::Rooms rooms) { second = std::move(rooms); });
  survey.ask([&](Survey::Rooms rooms) { third = std::move(rooms); });
  while (!first) of.loop.run_one();
  EXPECT_FALSE(second);
  of.loop.run();
  ASSERT_TRUE(second);
  EXPECT_NE(first, second) << "what one has just done must be in it";
  EXPECT_EQ(second, third) << "those who wait share one";
}

TEST(ASurvey, BeginsAnewWhenTheRoomsAreOthers) {
  Surveyed of{1000}, after{2};
  Survey survey{of.loop, *of.site};
  Survey::Rooms early, late;
  survey.ask([&](Survey::Rooms rooms) { early = std::move(rooms); });
  of.loop.run_one();
  survey.ask([&](Survey::Rooms rooms) { late = std::move(rooms); });
  *of.site = std::move(*after.site);
  survey.begin_anew();
  of.loop.run();
  ASSERT_TRUE(early && late) << "nobody is forgotten";
  EXPECT_EQ(early->size(), 2U);
  EXPECT_EQ(late->size(), 2U);
}

TEST(ASurvey, OfNoRoomsIsEmpty) {
  Surveyed of{0};
  Survey survey{of.loop, *of.site};
  Survey::Rooms got;
  survey.ask([&](Survey::Rooms rooms) { got = std::move(rooms); });
  of.loop.run();
  ASSERT_TRUE(got);
  EXPECT_TRUE(got->empty());
}

} // namespace oxherd::daemon::survey_test
