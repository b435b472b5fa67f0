#include "daemon/control/program_file.hpp"

#include <gtest/gtest.h>

namespace oxherd::daemon::program_file_test {

using control::Run;
using std::chrono::hours;
using std::chrono::minutes;
using std::chrono::seconds;

const WallTime evening{std::chrono::milliseconds{1'772'400'000'000}};

KeptProgram drying() {
  KeptProgram program{"growth-chamber-1", "heat", {}};
  program.state.run = Run{Run::Phase::running, 294.15, minutes{90}, hours{5}};
  return program;
}

TEST(ProgramFile, BringsARunBackOnTheNewClock) {
  const auto text = programs_text({drying()}, hours{5}, evening);
  const auto read = read_programs(text, seconds{3}, evening + minutes{7});
  ASSERT_TRUE(read) << read.error();
  EXPECT_EQ(read->outage, minutes{7});
  ASSERT_EQ(read->programs.size(), 1U);
  EXPECT_EQ(read->programs[0].room, "growth-chamber-1");
  EXPECT_EQ(read->programs[0].loop, "heat");
  const auto& run = read->programs[0].state.run.value();
  EXPECT_EQ(run.phase, Run::Phase::running);
  EXPECT_DOUBLE_EQ(run.from, 294.15);
  EXPECT_EQ(run.done, minutes{90});
  EXPECT_EQ(run.seen, seconds{3}) << "the outage is told apart";
}

TEST(ProgramFile, LetsAHoldGoOnForWhatIsLeftOfIt) {
  KeptProgram held{"growth-chamber-1", "heat", {}};
  held.state.hold = control::Hold{295.15, hours{2}};
  const auto text = programs_text({held}, hours{1}, evening);
  EXPECT_EQ(read_programs(text, seconds{3}, evening + minutes{20})->programs[0].state.hold->until,
            seconds{3} + minutes{40});
  EXPECT_EQ(read_programs(text, seconds{3}, evening + hours{3})->programs[0].state.hold->until, seconds{3})
      << "it is over at once";
  held.state.hold->until.reset();
  EXPECT_EQ(read_programs(programs_text({held}, hours{1}, evening), seconds{3}, evening)->programs[0].state.hold->until,
            std::nullopt);
}

TEST(ProgramFile, CountsAClockThatWasSetBackAsNoOutage) {
  EXPECT_EQ(read_programs(programs_text({drying()}, hours{5}, evening), seconds{3}, evening - hours{1})->outage,
            Monotonic{0});
}

TEST(ProgramFile, IsRefusedWhenItIsDamaged) {
  for (
      const char* text :
      {"", "null", "[]", "{", R"({"at":"yesterday","loops":[]})", R"({"at":"2026-03-01T20:00:00Z"})",
       R"({"at":"2026-03-01T20:00:00Z","loops":[{"room":"a","loop":"b","hold":null,"run":{"phase":"boiling","from":1,"done_s":1}}]})",
       R"({"at":"2026-03-01T20:00:00Z","loops":[{"room":"a","loop":"b","hold":null,"run":{"phase":"running","from":1,"done_s":-1}}]})",
       R"({"at":"2026-03-01T20:00:00Z","loops":[{"room":"a","loop":"b","hold":null,"run":{"phase":"running","from":1,"done_s":1e300}}]})",
       "[[[[[[[[[[[[[[[[]]]]]]]]]]]]]]]]"})
    EXPECT_FALSE(read_programs(text, seconds{3}, evening)) << text;
}

} // namespace oxherd::daemon::program_file_test
