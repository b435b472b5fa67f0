#include "daemon/identity/sessions.hpp"

#include <gtest/gtest.h>

// Who has signed in, and how often somebody may try.
namespace oxherd::sessions_test {

using namespace daemon::identity;
using namespace std::chrono_literals;

const User mira{"mira", Role::operator_, "hash-1", ""};

TEST(ASession, IsFoundByItsCookieUntilItHasBeenIdleForAShift) {
  Sessions sessions;
  const auto opened = sessions.open(mira, 0s);
  EXPECT_EQ(opened.person.name, "mira");
  EXPECT_FALSE(opened.person.csrf.empty());
  EXPECT_EQ(sessions.find(opened.cookie, 11h)->csrf, opened.person.csrf);
  EXPECT_TRUE(sessions.find(opened.cookie, 23h)) << "it was used meanwhile";
  EXPECT_FALSE(sessions.find(opened.cookie, 35h + 1s));
  EXPECT_FALSE(sessions.find(opened.cookie, 35h + 2s));
  EXPECT_FALSE(sessions.find("", 0s));
  EXPECT_FALSE(sessions.find("guessed", 0s));
}

TEST(ASession, EndsWhenItIsClosedOrItsUserIsGoneOrHasANewPassword) {
  Sessions sessions;
  const auto closed = sessions.open(mira, 0s), kept = sessions.open(mira, 0s);
  sessions.close(closed.cookie);
  EXPECT_FALSE(sessions.find(closed.cookie, 1s));
  auto promoted = mira;
  promoted.role = Role::engineer;
  sessions.follow({promoted});
  EXPECT_EQ(sessions.find(kept.cookie, 1s)->role, Role::engineer);
  auto renewed = promoted;
  renewed.password_hash = "hash-2";
  sessions.follow({renewed});
  EXPECT_FALSE(sessions.find(kept.cookie, 1s));
  const auto third = sessions.open(renewed, 1s);
  sessions.follow({});
  EXPECT_FALSE(sessions.find(third.cookie, 1s));
}

TEST(ASession, GivesWayToNewOnesWhenThereAreTooMany) {
  Sessions sessions;
  const auto oldest = sessions.open(mira, 0s);
  for (std::size_t i = 0; i < Sessions::kept_at_most; ++i) static_cast<void>(sessions.open(mira, 1s));
  EXPECT_FALSE(sessions.find(oldest.cookie, 2s));
}

TEST(SigningIn, IsSlowedDownAfterFiveTries) {
  SignInBrake brake;
  for (int i = 0; i < 5; ++i) EXPECT_FALSE(brake.ask("name mira", 10s));
  EXPECT_EQ(brake.ask("name mira", 10s), 12s);
  EXPECT_FALSE(brake.ask("name finch", 10s)) << "each for itself";
  EXPECT_EQ(brake.ask("name mira", 20s), 2s) << "asking while it waits costs nothing";
  EXPECT_FALSE(brake.ask("name mira", 22s));
  EXPECT_EQ(brake.ask("name mira", 22s), 12s);
  for (int i = 0; i < 5; ++i) EXPECT_FALSE(brake.ask("name mira", 10min));
}

TEST(SigningIn, IsFreeAgainForWhoHasSignedIn) {
  SignInBrake brake;
  for (int i = 0; i < 5; ++i) EXPECT_FALSE(brake.ask("name mira", 0s));
  brake.forget("name mira");
  EXPECT_FALSE(brake.ask("name mira", 0s));
}

} // namespace oxherd::sessions_test
