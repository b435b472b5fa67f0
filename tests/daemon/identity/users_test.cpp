#include "daemon/identity/users.hpp"

#include <fstream>

#include <gtest/gtest.h>
#include <sys/stat.h>

#include "tests/daemon/store/store_fixture.hpp"

// The file of those who may sign in.
namespace oxherd::users_test {

using namespace daemon::identity;
using daemon::store_test::ScratchDir;

TEST(Users, AreWrittenForTheOwnerAloneAndReadBack) {
  const ScratchDir dir;
  EXPECT_TRUE(read_users(dir.path()).value().empty()) << "none is no fault";
  const std::vector<User> users{{"mira", Role::operator_, "$argon2id$x", ""}, {"plc", Role::viewer, "", "abc"}};
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
