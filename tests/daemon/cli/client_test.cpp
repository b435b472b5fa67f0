#include "daemon/cli/client.hpp"

#include "tests/daemon/cli/cli_fixture.hpp"

namespace oxherd::daemon::client_test {

using cli::ask_daemon;
using cli::Unanswered;
using cli_test::FakeDaemon;
using cli_test::TemporaryDirectory;
using namespace std::chrono_literals;

TEST(TheClient, SendsOneLineAndReturnsOneLine) {
  FakeDaemon daemon{{"{\"ok\":true}\n"}};
  const auto answer = ask_daemon(daemon.path(), R"({"command":"status"})");
  ASSERT_TRUE(answer) << answer.error().what;
  EXPECT_EQ(*answer, "{\"ok\":true}");
  EXPECT_EQ(daemon.requests(), std::vector<std::string>{R"({"command":"status"})"});
}

TEST(TheClient, TakesALongAnswerInPieces) {
  const std::string longest(3'000'000, 'x');
  FakeDaemon daemon{{longest + "\nrest that nobody asked for"}};
  const auto answer = ask_daemon(daemon.path(), "{}");
  ASSERT_TRUE(answer) << answer.error().what;
  EXPECT_EQ(answer->size(), longest.size());
}

TEST(TheClient, SaysThatNoDaemonRuns) {
  const TemporaryDirectory empty;
  const auto answer = ask_daemon(empty.path(), "{}");
  ASSERT_FALSE(answer);
  EXPECT_EQ(answer.error().kind, Unanswered::no_daemon);
  EXPECT_EQ(answer.error().what,
            "no oxherd daemon answers in " + empty.path().string() +
                ": is it running? start it with `oxherd run --config FILE`, or give its --state-dir");
}

TEST(TheClient, SaysTheSameForASocketThatADeadDaemonLeft) {
  const TemporaryDirectory left;
  sockaddr_un address{};
  address.sun_family = AF_UNIX;
  (left.path() / "control.sock").string().copy(address.sun_path, sizeof address.sun_path - 1);
  const int listener = socket(AF_UNIX, SOCK_STREAM, 0);
  ASSERT_EQ(bind(listener, reinterpret_cast<const sockaddr*>(&address), sizeof address), 0);
  close(listener); // the name stays behind
  const auto answer = ask_daemon(left.path(), "{}");
  ASSERT_FALSE(answer);
  EXPECT_EQ(answer.error().kind, Unanswered::no_daemon);
}

TEST(TheClient, ReportsAnAnswerCutShort) {
  FakeDaemon daemon{{"{\"ok\":tr", ""}};
  const auto cut = ask_daemon(daemon.path(), "{}");
  ASSERT_FALSE(cut);
  EXPECT_EQ(cut.error().kind, Unanswered::broken);
  EXPECT_EQ(cut.error().what, "the daemon closed the connection in the middle of its answer");
  const auto none = ask_daemon(daemon.path(), "{}");
  ASSERT_FALSE(none);
  EXPECT_EQ(none.error().what, "the daemon closed the connection without an answer");
}

TEST(TheClient, GivesUpOnAStuckDaemon) {
  FakeDaemon daemon{{"{\"ok\""}, true};
  const auto answer = ask_daemon(daemon.path(), "{}", {.patience = 50ms});
  ASSERT_FALSE(answer);
  EXPECT_EQ(answer.error().kind, Unanswered::broken);
  EXPECT_EQ(answer.error().what, "the daemon did not answer within 0.05 s: it may be stuck, look at its log");
}

TEST(TheClient, StopsReadingAnEndlessAnswer) {
  FakeDaemon daemon{{std::string(1'000'000, 'x')}, true};
  const auto answer = ask_daemon(daemon.path(), "{}", {.answer_bytes_max = 100'000});
  ASSERT_FALSE(answer);
  EXPECT_EQ(answer.error().what, "the answer is longer than 100000 bytes: ask for less");
}

TEST(TheClient, RefusesADirectoryTooLongForASocket) {
  const auto answer = ask_daemon("/" + std::string(200, 'd'), "{}");
  ASSERT_FALSE(answer);
  EXPECT_EQ(answer.error().kind, Unanswered::broken);
  EXPECT_NE(answer.error().what.find("107 characters at most"), std::string::npos) << answer.error().what;
}

} // namespace oxherd::daemon::client_test
