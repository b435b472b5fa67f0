#include "daemon/http/events.hpp"

#include <gtest/gtest.h>

// What listeners of the stream get.
namespace oxherd::http_events_test {

using namespace daemon::http;

std::shared_ptr<Subscription> listener(int* woken = nullptr) {
  return std::make_shared<Subscription>([woken] {
    if (woken != nullptr) ++*woken;
  });
}

TEST(TheStream, BeginsWithAllThatStandsAndGoesOnWithWhatChanges) {
  EventHub hub{R"({"site":"larkfield"})"};
  hub.room("bay-3", R"({"v":1})");
  hub.room("bay-3", R"({"v":2})");
  hub.room("annexe", R"({"v":3})");
  const auto one = listener();
  hub.subscribe(one);
  EXPECT_EQ(one->take(), "retry: 2000\n\nevent: hello\ndata: {\"site\":\"larkfield\"}\n\nevent: room\ndata: "
                         "{\"v\":3}\n\nevent: room\ndata: {\"v\":2}\n\n");
  hub.tell("beat", "{}");
  hub.room("annexe", R"({"v":4})");
  EXPECT_EQ(one->take(), "event: beat\ndata: {}\n\nevent: room\ndata: {\"v\":4}\n\n");
  EXPECT_EQ(one->take(), "");
}

TEST(TheStream, WakesWhoListensAndForgetsWhoWent) {
  EventHub hub{"{}"};
  int woken = 0;
  auto one = listener(&woken);
  hub.subscribe(one);
  const int begun = woken;
  hub.tell("beat", "{}");
  EXPECT_EQ(woken, begun + 1);
  EXPECT_EQ(hub.listeners(), 1U);
  one.reset();
  EXPECT_EQ(hub.listeners(), 0U);
  hub.tell("beat", "{}");
}

TEST(TheStream, LetsGoWhoReadsTooSlowlyAndHoldsNothingForThem) {
  EventHub hub{"{}"};
  const auto slow = listener();
  hub.subscribe(slow);
  const std::string big(100'000, 'x');
  for (int i = 0; i < 100 && !slow->overrun(); ++i) hub.tell("reading", big);
  EXPECT_TRUE(slow->overrun());
  EXPECT_EQ(slow->take(), "");
}

TEST(TheStream, KeepsTheLastOfEachRoomUntilItIsRemoved) {
  EventHub hub{"{}"};
  hub.room("bay-3", "1");
  ASSERT_NE(hub.room_json("bay-3"), nullptr);
  EXPECT_EQ(*hub.room_json("bay-3"), "1");
  hub.room_removed("bay-3");
  EXPECT_EQ(hub.room_json("bay-3"), nullptr);
}

} // namespace oxherd::http_events_test
