#include "daemon/identity/users.hpp"

#include <fstream>

#include <gtest/gtest.h>
#include <sys/stat.h>

#include "tests/daemon/store/store_fixture.hpp"

// The file of those who may sign in.
namespace oxherd::users_test {

using namespace daemon::identity;
using daemon::store_test::ScratchDir;
using namespace std::chrono_literals;

TEST(Users, AreWrittenForTheOwnerAloneAndReadBack) {
  const ScratchDir dir;
  EXPECT_EQ(read_users(dir.path()).value(), Users{}) << "none is no fault";
  Users users{{{"mira", Role::operator_, "$argon2id$x", ""}, {"plc", Role::viewer, "", "abc"}}, {}};
  users.add({daemon::WallTime{1700000000000ms}, "mira", "user-made", "R. Okafor", "mira is made, operator"});
  ASSERT_TRUE(write_users(dir.path(), users));
  struct stat about {};
  ASSERT_EQ(::stat((dir.path() / users_file_name).c_str(), &about), 0);
  EXPECT_EQ(about.st_mode & 0777U, 0600U);
  EXPECT_EQ(read_users(dir.path()).value(), users);
}

TEST(Users, AreRefusedFromAFileThatOthersMayRead) {
  const ScratchDir dir;
  ASSERT_TRUE(write_users(dir.path(), {}));
  ASSERT_EQ(::chmod((dir.path() / users_file_name).c_str(), 0640), 0);
  EXPECT_NE(read_users(dir.path()).error().find("others may read it: chmod 600"), std::string::npos);
}

TEST(Users, AreRefusedFromADamagedFileWithWordsThatHelp) {
  const ScratchDir dir;
  for (const auto* text : {"", "{", "[]", R"({"users":1})", R"({"users":[{"name":"x","role":"king"}]})",
                           R"({"users":[{"role":"viewer"}]})"}) {
    ASSERT_TRUE(write_users(dir.path(), {}));
    std::ofstream{dir.path() / users_file_name, std::ios::trunc} << text;
    const auto users = read_users(dir.path());
    ASSERT_FALSE(users) << text;
    EXPECT_NE(users.error().find("users.json"), std::string::npos);
  }
}

TEST(ChangesOfUsers, AreEachLaterThanTheOneBefore) {
  Users users;
  const daemon::WallTime noon{1700000000000ms};
  for (const auto at : {noon, noon, noon - 1h})
    users.add({at, "mira", "password-set", "root", "mira has a new password"});
  ASSERT_EQ(users.changes.size(), 3U);
  EXPECT_EQ(users.changes[0].at, noon);
  EXPECT_EQ(users.changes[1].at, noon + 1ms);
  EXPECT_EQ(users.changes[2].at, noon + 2ms) << "a clock that was set back hides no change from the journal";
}

TEST(ChangesOfUsers, AreKeptUpToANumber) {
  Users users;
  for (int i = 0; i < 250; ++i) users.add({daemon::WallTime{i * 10ms}, std::to_string(i), "user-made", "", ""});
  ASSERT_EQ(users.changes.size(), Users::changes_kept);
  EXPECT_EQ(users.changes.back().user, "249");
}

TEST(APassword, FitsItsOwnHashAndNoOther) {
  const User user{"mira", Role::viewer, hash_password("correct horse"), ""};
  EXPECT_TRUE(user.password_hash.starts_with("$argon2id$")) << "RFC 9106";
  EXPECT_TRUE(password_fits(user, "correct horse"));
  EXPECT_FALSE(password_fits(user, "correct hors"));
  EXPECT_FALSE(password_fits({"plc", Role::viewer, "", "abc"}, ""));
  EXPECT_NE(hash_password("correct horse"), user.password_hash) << "salted";
}

TEST(AToken, IsLongRandomAndKnownByItsHash) {
  const auto token = random_token();
  EXPECT_EQ(token.size(), 43U) << "256 bits in base64";
  EXPECT_NE(token, random_token());
  EXPECT_EQ(token_hash(token), token_hash(token));
  EXPECT_NE(token_hash(token), token_hash(random_token()));
}

} // namespace oxherd::users_test
