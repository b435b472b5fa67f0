#include "daemon/log.hpp"

#include <chrono>
#include <cstdlib>
#include <functional>
#include <sstream>
#include <string>
#include <vector>

#include <fcntl.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <gtest/gtest.h>

#include "daemon/time_text.hpp"

namespace oxherd::daemon::log_test {

/// A child process whose stderr is a pipe; `read_all` empties it to its end.
class Child {
public:
  explicit Child(const std::function<void()>& body) {
    int ends[2];
    if (::pipe(ends) != 0) std::abort();
    pid_ = ::fork();
    if (pid_ == 0) {
      ::close(ends[0]);
      ::dup2(ends[1], STDERR_FILENO);
      ::close(ends[1]);
      body();
      ::_exit(0);
    }
    ::close(ends[1]);
    stderr_ = ends[0];
  }
  ~Child() {
    ::close(stderr_);
    if (pid_ > 0) {
      ::kill(pid_, SIGKILL);
      ::waitpid(pid_, nullptr, 0);
    }
  }
  Child(const Child&) = delete;
  Child& operator=(const Child&) = delete;

  std::string read_all() {
    std::string text;
    char chunk[4096];
    for (ssize_t size = 0; (size = ::read(stderr_, chunk, sizeof chunk)) > 0;)
      text.append(chunk, static_cast<std::size_t>(size));
    return text;
  }
  /// Hands on line by line, until one is enough or there are no more; what came behind it is lost.
  void read_lines(const std::function<bool(const std::string&)>& is_enough) {
    std::string text;
    char chunk[4096];
    for (ssize_t size = 0; (size = ::read(stderr_, chunk, sizeof chunk)) > 0;) {
      text.append(chunk, static_cast<std::size_t>(size));
      for (std::size_t end = 0; (end = text.find('\n')) != std::string::npos; text.erase(0, end + 1))
        if (is_enough(text.substr(0, end))) return;
    }
  }
  /// Exit code, without having read a byte of its stderr; the test's own time limit bounds the wait.
  int wait() {
    int status = 0;
    ::waitpid(pid_, &status, 0);
    pid_ = 0;
    return WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
  }

private:
  pid_t pid_ = 0;
  int stderr_ = -1;
};

void claim_stderr_is_the_journal() {
  struct stat now {};
  if (::fstat(STDERR_FILENO, &now) != 0) ::_exit(1);
  ::setenv("JOURNAL_STREAM", fmt::format("{}:{}", now.st_dev, now.st_ino).c_str(), 1);
}

void write_one_of_each() {
  log::debug("d {}", 1);
  log::info("i {}", 2);
  log::warning("w {}", 3);
  log::error("e {}", "4");
}

TEST(Log, StampsLinesWithUtcAndTheirLevelOutsideTheJournal) {
  const auto before = std::chrono::floor<std::chrono::milliseconds>(std::chrono::system_clock::now());
  Child child{[] {
    ::unsetenv("JOURNAL_STREAM");
    ::setenv("TZ", "LINT-14", 1);
    log::start(log::Level::debug);
    write_one_of_each();
    log::stop();
  }};
  std::istringstream text{child.read_all()};
  for (const std::string_view expected : {" debug d 1", " info i 2", " warning w 3", " error e 4"}) {
    std::string line;
    ASSERT_TRUE(std::getline(text, line));
    constexpr std::size_t stamp = std::string_view{"2026-03-01T08:15:30.250Z"}.size();
    ASSERT_GT(line.size(), stamp);
    const auto at = parse_rfc3339(line.substr(0, stamp));
    ASSERT_TRUE(at) << line;
    EXPECT_GE(*at, before) << line;
    EXPECT_LT(*at, before + std::chrono::hours{1}) << line; // not fourteen hours ahead, as the zone is
    EXPECT_EQ(line.substr(stamp), expected);
  }
  EXPECT_EQ(text.peek(), std::istringstream::traits_type::eof());
}

TEST(Log, PutsThePriorityInFrontUnderTheJournal) {
  Child child{[] {
    claim_stderr_is_the_journal();
    log::start(log::Level::debug);
    write_one_of_each();
    log::stop();
  }};
  EXPECT_EQ(child.read_all(), "<7>d 1\n<6>i 2\n<4>w 3\n<3>e 4\n");
}

TEST(Log, IsNotFooledByAJournalStreamThatStderrNoLongerLeadsTo) {
  Child child{[] {
    ::setenv("JOURNAL_STREAM", "1:2", 1);
    log::start(log::Level::info);
    log::info("redirected");
    log::stop();
  }};
  EXPECT_EQ(child.read_all().front(), '2');
}

TEST(Log, LeavesOutWhatIsBelowItsLevel) {
  Child child{[] {
    claim_stderr_is_the_journal();
    log::start(log::Level::warning);
    write_one_of_each();
    log::stop();
  }};
  EXPECT_EQ(child.read_all(), "<4>w 3\n<3>e 4\n");
}

TEST(Log, WritesStraightToStderrBeforeItIsStartedAndAfterItIsStopped) {
  Child child{[] {
    claim_stderr_is_the_journal();
    log::error("before");
    log::start(log::Level::info);
    log::info("between");
    log::stop();
    log::stop(); // harmless
    log::warning("after");
  }};
  EXPECT_EQ(child.read_all(), "<3>before\n<6>between\n<4>after\n");
}

TEST(Log, KeepsOneMessageOnOneLine) {
  Child child{[] {
    claim_stderr_is_the_journal();
    log::start(log::Level::info);
    log::warning("device says: {}", "fine\n<0>forged\x1b[31m °C {}");
    log::stop();
  }};
  EXPECT_EQ(child.read_all(), "<4>device says: fine <0>forged [31m °C {}\n");
}

TEST(Log, KeepsTheOrderAndAllLinesWhileStderrTakesThem) {
  Child child{[] {
    claim_stderr_is_the_journal();
    log::start(log::Level::info);
    for (int i = 0; i < 5000; ++i) log::info("{}", i);
    log::stop();
    if (log::dropped() != 0) ::_exit(1);
  }};
  std::string expected;
  for (int i = 0; i < 5000; ++i) expected += fmt::format("<6>{}\n", i);
  EXPECT_EQ(child.read_all(), expected);
  EXPECT_EQ(child.wait(), 0);
}

TEST(Log, NeverBlocksAndStopsInTimeWhenStderrIsStuckAndCountsWhatItDropped) {
  Child child{[] {
    log::start(log::Level::info);
    const std::string filler(1000, 'x');
    for (int i = 0; i < 20000; ++i) log::info("{} {}", i, filler); // the pipe takes 64 KiB, nobody reads
    log::stop();
    log::error("after a stuck stop nothing may block");
    ::_exit(log::dropped() > 10000 && log::dropped() < 20000 ? 0 : 1);
  }};
  EXPECT_EQ(child.wait(), 0); // would never end if a call blocked
}

TEST(Log, ReportsHowManyLinesWereLostOnceStderrTakesLinesAgain) {
  int resume[2];
  ASSERT_EQ(::pipe(resume), 0);
  int flooded[2];
  ASSERT_EQ(::pipe(flooded), 0);
  Child child{[&] {
    claim_stderr_is_the_journal();
    log::start(log::Level::info);
    const std::string filler(1000, 'x');
    for (int i = 0; i < 20000; ++i) log::info("{}", filler);
    char go = 0;
    if (::write(flooded[1], "f", 1) != 1 || ::read(resume[0], &go, 1) != 1) ::_exit(1);
    log::info("the end");
    log::stop();
  }};
  char seen = 0;
  ASSERT_EQ(::read(flooded[0], &seen, 1), 1);
  // What was told as lost, at once or bit by bit, and what was written make up what was given.
  const std::string words = " log lines were lost: stderr did not take them";
  std::int64_t lost = 0, written = 0;
  child.read_lines([&](const std::string& line) {
    if (line.ends_with(words)) {
      EXPECT_EQ(line.substr(0, 3), "<4>");
      lost += std::stoll(line.substr(3));
    } else if (line.starts_with("<6>xxx")) {
      ++written;
    }
    return lost + written == 20000; // else the test's time limit ends it
  });
  EXPECT_EQ(lost + written, 20000);
  EXPECT_GT(lost, 1000);
  ASSERT_EQ(::write(resume[1], "r", 1), 1);
  EXPECT_EQ(child.read_all(), "<6>the end\n");
  for (const int end : {resume[0], resume[1], flooded[0], flooded[1]}) ::close(end);
}

} // namespace oxherd::daemon::log_test
