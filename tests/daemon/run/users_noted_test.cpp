// Which lines the journal gets about users.
#include "daemon/run/users_noted.hpp"

#include <gtest/gtest.h>

#include "daemon/store/history.hpp"
#include "tests/daemon/store/store_fixture.hpp"

namespace oxherd::daemon::users_noted_test {

using namespace std::chrono_literals;
using identity::UserNote;
using store_test::morning;

const UserNote made{morning, "mira", "user-made", "R. Okafor", "mira is made, operator"};
const UserNote signed_in{morning + 1h, "mira", "signed-in", "mira", "mira (operator) signed in from 127.0.0.1"};

TEST(ALineAboutAUser, StandsUnderANameThatNoAlarmHas) {
  const auto line = journal_line(made);
  EXPECT_EQ(line.alarm, "user/mira");
  EXPECT_EQ(line.room, "");
  EXPECT_EQ(line.at, morning);
  EXPECT_EQ(line.event, "user-made");
  EXPECT_EQ(line.author, "R. Okafor");
  EXPECT_EQ(line.text, "mira is made, operator");
  EXPECT_EQ(line.from, line.to);
  EXPECT_EQ(journal_line(signed_in).alarm, "sign-in/mira");
}

TEST(UsersNoted, TakesEachChangeOnceAndEverySignIn) {
  UsersNoted noted{WallTime{0ms}};
  auto later = made;
  later.at += 1ms;
  EXPECT_TRUE(noted.take(made));
  EXPECT_TRUE(noted.take(later));
  EXPECT_FALSE(noted.take(made));
  EXPECT_FALSE(noted.take(later));
  EXPECT_TRUE(noted.take(signed_in));
  EXPECT_TRUE(noted.take(signed_in));
  later.at += 1ms;
  EXPECT_TRUE(noted.take(later)) << "signing in hides no change that was made before it";
}

TEST(UsersNoted, KnowsAfterARestartWhatTheJournalHas) {
  const store_test::ScratchDir dir;
  {
    const auto store = store_test::open_store(dir.path());
    ASSERT_TRUE(store);
    auto line = journal_line(made), in = journal_line(signed_in);
    line.sequence = 1;
    in.sequence = 2;
    store->alarm(line, {}, {});
    store->alarm(in, {}, {});
  }
  auto noted = load_users_noted(dir.path(), morning - 24h); // the clock was set back since
  EXPECT_FALSE(noted.take(made));
  auto next = made;
  next.at += 1ms;
  EXPECT_TRUE(noted.take(next));
}

TEST(UsersNoted, TakesEverythingWhereThereIsNoJournal) {
  const store_test::ScratchDir dir;
  EXPECT_TRUE(load_users_noted(dir.path(), morning).take(made));
}

} // namespace oxherd::daemon::users_noted_test
