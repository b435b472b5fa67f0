#include "control/programs/elapsed_program.hpp"

#include <cmath>

#include <gtest/gtest.h>

namespace oxherd::control::elapsed_program_test {

using std::chrono::hours;
using std::chrono::milliseconds;
using std::chrono::minutes;

/// From wherever it is to 30 in two hours, six hours there, down to 20 at 5 an hour, and an hour there.
ElapsedProgram curing() {
  return {.steps = {{30.0, {.over = hours{2}, .most_per_h = {}}, hours{6}},
                    {20.0, {.over = {}, .most_per_h = 5.0}, hours{1}}},
          .most_per_h = {}};
}
Run run_at(Monotonic done) { return {.phase = Run::Phase::running, .from = 20.0, .done = done, .seen = hours{100}}; }

TEST(ElapsedProgram, RampsAndSoaksStepAfterStep) {
  const auto program = curing();
  EXPECT_EQ(duration_of(program, 20.0), hours{11});
  EXPECT_EQ(set_point_at(program, run_at(hours{0})).value, 20.0);
  EXPECT_DOUBLE_EQ(set_point_at(program, run_at(hours{1})).value, 25.0);
  EXPECT_DOUBLE_EQ(set_point_at(program, run_at(hours{1})).rate_per_h, 5.0);
  EXPECT_EQ(set_point_at(program, run_at(hours{2})).value, 30.0);
  EXPECT_FALSE(set_point_at(program, run_at(hours{2})).ramping());
  EXPECT_EQ(set_point_at(program, run_at(hours{8} - milliseconds{1})).step, 0U);
  EXPECT_EQ(set_point_at(program, run_at(hours{8})).step, 1U);
  EXPECT_DOUBLE_EQ(set_point_at(program, run_at(hours{9})).value, 25.0);
  EXPECT_DOUBLE_EQ(set_point_at(program, run_at(hours{9})).rate_per_h, -5.0);
}

TEST(ElapsedProgram, HoldsItsLastTargetWhenItIsOver) {
  for (const auto done : {hours{11}, hours{12}, hours{5000}}) {
    const auto point = set_point_at(curing(), run_at(done));
    EXPECT_EQ(point.value, 20.0);
    EXPECT_EQ(point.step, 1U);
    EXPECT_FALSE(point.next);
  }
}

TEST(ElapsedProgram, TellsWhatComesNextAndWhen) {
  const auto next = set_point_at(curing(), run_at(minutes{30})).next;
  ASSERT_TRUE(next);
  EXPECT_EQ(next->step, 1U);
  EXPECT_EQ(next->target, 20.0);
  EXPECT_EQ(next->in, hours{7} + minutes{30});
}

TEST(ElapsedProgram, IsNeverFasterThanItsGreatestRate) {
  auto program = curing();
  program.most_per_h = 2.0;
  EXPECT_EQ(duration_of(program, 20.0), hours{5 + 6 + 5 + 1});
  EXPECT_DOUBLE_EQ(set_point_at(program, run_at(hours{1})).value, 22.0);
}

TEST(ElapsedProgram, PassesStepsThatTakeNoTime) {
  const ElapsedProgram program{.steps = {{25.0, {}, {}}, {30.0, {}, hours{1}}}, .most_per_h = {}};
  EXPECT_EQ(set_point_at(program, run_at(hours{0})).value, 30.0);
}

TEST(ElapsedProgram, RunsByTheTimeItIsToldOf) {
  auto run = run_at(hours{1});
  run = advanced(run, hours{101});
  EXPECT_EQ(run.done, hours{2});
  run.phase = Run::Phase::stopped;
  run = advanced(run, hours{103});
  EXPECT_EQ(run.done, hours{2});
  run.phase = Run::Phase::running;
  EXPECT_EQ(advanced(run, hours{104}).done, hours{3}); // the time of the stop is not made up for
}

// A quarter of an hour without power, half an hour into the ramp; the clock counts from zero again.
Run resumed_by(AfterOutage rule, std::optional<Monotonic> outage = minutes{15}) {
  auto program = curing();
  program.after_outage = rule;
  return after_outage(program, run_at(minutes{30}), outage, 21.5, minutes{1});
}

TEST(AfterAnOutage, ContinuesUnlessToldOtherwise) { EXPECT_EQ(curing().after_outage, AfterOutage::go_on); }

TEST(AfterAnOutage, ContinuesWhereItWas) {
  const auto run = resumed_by(AfterOutage::go_on);
  EXPECT_EQ(run.phase, Run::Phase::running);
  EXPECT_EQ(run.done, minutes{30});
  EXPECT_EQ(advanced(run, minutes{2}).done, minutes{31}); // counted from the new start
}

TEST(AfterAnOutage, JoinsAsIfItHadRun) { EXPECT_EQ(resumed_by(AfterOutage::join).done, minutes{45}); }

TEST(AfterAnOutage, RestartsFromWhatTheRoomHas) {
  const auto run = resumed_by(AfterOutage::restart);
  EXPECT_EQ(run.done, Monotonic{0});
  EXPECT_EQ(run.from, 21.5);
  auto program = curing();
  program.after_outage = AfterOutage::restart;
  const auto blind = after_outage(program, run_at(minutes{30}), minutes{15}, {}, minutes{1});
  EXPECT_DOUBLE_EQ(blind.from, 22.5); // the set-point it had come to
}

TEST(AfterAnOutage, StopsAndAsksWhenThatIsTheRule) {
  const auto run = resumed_by(AfterOutage::stop);
  EXPECT_EQ(run.phase, Run::Phase::stopped_by_outage);
  EXPECT_EQ(run.done, minutes{30});
}

TEST(AfterAnOutage, ThatWasTooLongStopsAndAsksWhateverTheRule) {
  for (const auto rule : {AfterOutage::go_on, AfterOutage::join, AfterOutage::restart, AfterOutage::stop}) {
    const auto run = resumed_by(rule, hours{1} + milliseconds{1});
    EXPECT_EQ(run.phase, Run::Phase::stopped_by_outage);
    EXPECT_EQ(run.done, minutes{30});
    EXPECT_EQ(run.from, 20.0);
  }
  EXPECT_EQ(resumed_by(AfterOutage::go_on, hours{1}).phase, Run::Phase::running);
}

TEST(AfterAnOutage, OfUnknownLengthStopsAndAsks) {
  EXPECT_EQ(resumed_by(AfterOutage::join, std::nullopt).phase, Run::Phase::stopped_by_outage);
  EXPECT_EQ(resumed_by(AfterOutage::join, minutes{-1}).phase, Run::Phase::stopped_by_outage); // a clock was set back
}

TEST(AfterAnOutage, StaysWhatItWasWhenItIsOverOrStopped) {
  EXPECT_EQ(after_outage(curing(), run_at(hours{11}), hours{9}, {}, minutes{1}).phase, Run::Phase::running);
  auto stopped = run_at(hours{1});
  stopped.phase = Run::Phase::stopped;
  EXPECT_EQ(after_outage(curing(), stopped, hours{9}, {}, minutes{1}).phase, Run::Phase::stopped);
}

TEST(ElapsedProgram, IsToldWhatIsWrongWithIt) {
  EXPECT_TRUE(problems_of(curing()).empty());
  const ElapsedProgram wrong{.steps = {{std::nan(""), {.over = minutes{-1}, .most_per_h = 0.0}, minutes{-1}}},
                             .most_per_h = -1.0,
                             .after_outage = AfterOutage::go_on,
                             .outage_most = minutes{-1}};
  EXPECT_EQ(problems_of(wrong),
            (std::vector<std::string>{
                "step 1: the target is not a number", "step 1: the ramp takes less than no time",
                "step 1: the soak takes less than no time", "step 1: the rate of the ramp must be above zero",
                "the greatest rate must be above zero", "the longest outage is less than no time"}));
  EXPECT_EQ(problems_of(ElapsedProgram{}), std::vector<std::string>{"there are no steps; write at least one"});
}

} // namespace oxherd::control::elapsed_program_test
