// A reply waits a moment for the decision thread, which may have looked at the room meanwhile: time still goes one way.
#include <algorithm>

#include <gtest/gtest.h>

#include "tests/daemon/control/rig.hpp"

namespace oxherd::daemon::one_way_of_time_test {

using control::ActuatorAct;
using rig_test::Rig;
using namespace std::chrono_literals;

struct Chamber : Rig {
  Chamber() : Rig{rig_test::chamber} {
    values["cell/oxygen"] = 0.2095;
    values["air/temperature"] = 273.15 + 22.0;
    values["air/humidity"] = 0.65;
    run(10min); // longer than the least off-time of the chiller
  }
  /// A poll whose reply was there this long ago.
  void poll_of_before(const std::string& sensor, std::chrono::milliseconds ago) {
    now -= ago;
    wall -= ago;
    poll(sensor);
    now += ago;
    wall += ago;
  }
};

TEST(AReplyFromBeforeTheLastLook, IsTakenByALookAtTheSameTime) {
  Chamber chamber;
  ASSERT_EQ(chamber.order("chiller", ActuatorAct::hold), "");
  chamber.poll("cell");
  ASSERT_TRUE(chamber.on("chiller")) << "switched at this very moment";
  chamber.values["air/temperature"] = 273.15 + 23.0;
  chamber.poll_of_before("air", 40ms);
  EXPECT_TRUE(chamber.on("chiller"));
  const auto status = chamber.site->status(0, chamber.now, chamber.wall);
  const auto air = std::find_if(status.sensors.begin(), status.sensors.end(),
                                [](const SensorStatus& sensor) { return sensor.name == "air"; });
  EXPECT_EQ(air->age_ms, 40) << "its value is as old as it is";
}

TEST(AReplyFromBeforeTheLastLook, IsTakenAfterAnOrderOfAPersonToo) {
  Chamber chamber;
  ASSERT_EQ(chamber.order("chiller", ActuatorAct::hold), "");
  chamber.poll_of_before("air", 40ms);
  EXPECT_TRUE(chamber.on("chiller"));
}

} // namespace oxherd::daemon::one_way_of_time_test
