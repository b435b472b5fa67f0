// cryo-annexe in a closed loop: an extract fan that stands by a coil and runs without one.
#include <gtest/gtest.h>

#include "tests/simulation/controlled_site.hpp"

namespace oxherd::simulation::control_annexe_test {

using namespace std::chrono_literals;
using alarms::State;
using control::ActuatorAct;
using demo::Actuator;

/// Three cells vote; the middle one is within three sigmas of their scatter and the errors of the probes.
constexpr double cells_error = 0.003;

TEST(CryoAnnexe, IsExtractedWhenNitrogenLeaksAndKeepsItsOxygen) {
  // 60 m3. With the fan still, 12 m3/h of fresh air against 4 m3/h of nitrogen come to rest at 15.7 %; with it, 180
  // m3/h at 20.5 %.
  ControlledSite annexe{{.room = "cryo-annexe", .story = "01:00:00 leak cryo-annexe 4\n"}};
  annexe.run(1h);
  EXPECT_FALSE(annexe.plant().extract_fan) << "the air is fresh";
  const int before = annexe.starts(Actuator::extract_fan);
  Span oxygen;
  annexe.run(5h, [&] { oxygen.take(annexe.oxygen()); });
  EXPECT_GT(annexe.starts(Actuator::extract_fan), before);
  EXPECT_GT(oxygen.least, 0.201 - cells_error) << "on from 20.1 % on";
  EXPECT_EQ(annexe.state("low-oxygen"), State::normal);
  const auto shortest = shortest_times(annexe.switchings(Actuator::extract_fan));
  EXPECT_GE(shortest.on_s, 60.0);
  EXPECT_GE(shortest.off_s, 60.0);
}

TEST(CryoAnnexe, IsExtractedByItsAlarmWhateverAPersonHolds) {
  ControlledSite annexe{{.room = "cryo-annexe"}};
  annexe.run(10min);
  ASSERT_EQ(annexe.order("annexe-fan", ActuatorAct::hold, 0.0, 8h), "");
  annexe.happen("leak cryo-annexe 20");
  annexe.run_until([&] { return annexe.state("low-oxygen") == State::unacknowledged; }, 2h);
  ASSERT_EQ(annexe.state("low-oxygen"), State::unacknowledged);
  EXPECT_GT(annexe.oxygen(), 0.19) << "its limit, less what the cells lag";
  annexe.beat();
  EXPECT_TRUE(annexe.plant().extract_fan);
  Span oxygen;
  annexe.run(2h, [&] { oxygen.take(annexe.oxygen()); });
  // 180 m3/h of fresh air against 20 m3/h come to rest at 18.9 %: it is held there, and would be at 7.9 % without.
  EXPECT_GT(oxygen.least, 0.2095 * 180 / 200 - 0.001);
  EXPECT_TRUE(annexe.plant().extract_fan);
}

TEST(CryoAnnexe, IsExtractedWhileItIsNotMonitored) {
  ControlledSite annexe{{.room = "cryo-annexe"}};
  annexe.run(10min);
  EXPECT_FALSE(annexe.plant().extract_fan);
  annexe.happen("fault cryo-annexe/cell-a silent");
  annexe.run(1min);
  EXPECT_FALSE(annexe.plant().extract_fan) << "two of three go on";
  annexe.happen("fault cryo-annexe/cell-b silent");
  annexe.run(45s); // an answer may be three polls old
  EXPECT_TRUE(annexe.plant().extract_fan);
}

} // namespace oxherd::simulation::control_annexe_test
