#include "daemon/mqtt/password_file.hpp"

#include <sys/stat.h>

#include <gtest/gtest.h>

#include "tests/daemon/mqtt/broker.hpp"

namespace oxherd::daemon::password_file_test {

using mqtt_test::TemporaryDirectory;

bool contains(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

TEST(PasswordFile, IsReadWithoutItsLineEnd) {
  const TemporaryDirectory directory;
  EXPECT_EQ(read_password(directory.write("a", "open sesame\n")), "open sesame");
  EXPECT_EQ(read_password(directory.write("b", "open sesame\r\n", 0400)), "open sesame");
  EXPECT_EQ(read_password(directory.write("c", " spaces stay ")), " spaces stay ");
}

TEST(PasswordFile, IsRefusedWithWordsThatSayWhatToDo) {
  const TemporaryDirectory directory;
  const auto why = [&](const std::string& file) {
    const auto password = read_password(file);
    return password ? "it was read" : password.error();
  };
  const auto open = directory.write("open", "secret", 0644);
  EXPECT_EQ(why(open),
            "mqtt.password_file: " + open + ": others than its owner may use it (mode 0644); run: chmod 600 " + open);
  for (const unsigned mode : {0640U, 0604U, 0620U, 0602U})
    EXPECT_TRUE(contains(why(directory.write("some", "secret", mode)), "chmod 600")) << mode;
  EXPECT_TRUE(contains(why(directory.file("none")), "No such file"));
  EXPECT_TRUE(contains(why(directory.file("")), "not a plain file"));
  EXPECT_TRUE(contains(why(directory.write("empty", "\n")), "empty"));
  EXPECT_TRUE(contains(why(directory.write("long", std::string(5000, 'x'))), "longer"));
  ASSERT_EQ(::mkfifo(directory.file("pipe").c_str(), 0600), 0);
  EXPECT_TRUE(contains(why(directory.file("pipe")), "not a plain file")); // and it does not wait for a writer
}

} // namespace oxherd::daemon::password_file_test
