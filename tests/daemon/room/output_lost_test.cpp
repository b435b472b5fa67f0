// The alarm of a room about its outputs, and what it does to the room's relay.
#include <gtest/gtest.h>

#include "config/alarm_defaults.hpp"
#include "tests/daemon/room/annexe.hpp"

namespace oxherd::daemon::output_lost_test {

using namespace std::chrono_literals;
using alarms::State;

struct Answering : annexe_test::Annexe {
  Answering() {
    config::AlarmSettings lost;
    lost.name = config::output_lost_name;
    lost.quantity = config::AlarmQuantity::monitoring;
    lost.alarm.rule = alarms::OutputLost{};
    lost.alarm.annunciation.latching = false;
    settings.rooms[0].alarms.push_back(lost);
    start();
    static_cast<void>(seconds(3));
  }
  Outcome find(std::optional<bool> confirmed, bool relay_lost = false) {
    site->set_outputs_found(0, {confirmed, relay_lost,
                                "horn (coil 5 of unit 31 on bus \"plant\") was told on, its "
                                "device holds off; the horn may not sound"});
    return pass(250ms);
  }
  [[nodiscard]] State lost() const { return state(config::output_lost_name); }
  [[nodiscard]] std::string text() const {
    for (const auto& alarm : site->status(0, now, wall).alarms)
      if (alarm.alarm == config::output_lost_name) return alarm.text;
    return {};
  }
};

TEST(OutputLostAlarm, ComesWithTheLossSaysWhatWasFoundAndGoesWithTheConfirmation) {
  Answering annexe;
  EXPECT_EQ(annexe.lost(), State::normal) << "nothing is known yet";
  static_cast<void>(annexe.find(true));
  EXPECT_EQ(annexe.lost(), State::normal);
  const auto came = annexe.find(false);
  EXPECT_EQ(annexe_test::transitions(came, config::output_lost_name), "normal>unacknowledged");
  EXPECT_EQ(annexe.text().find("OUTPUT LOST cryo-annexe: horn (coil 5 of unit 31 on bus \"plant\") was told on, its "
                               "device holds off; the horn may not sound; since "),
            0U)
      << annexe.text();
  EXPECT_TRUE(annexe.site->status(0, annexe.now, annexe.wall).monitored) << "the air is watched all the same";
  static_cast<void>(annexe.find({}));
  EXPECT_EQ(annexe.lost(), State::unacknowledged) << "not known ends nothing";
  static_cast<void>(annexe.find(true));
  EXPECT_EQ(annexe.lost(), State::returned_to_normal_unacknowledged);
  EXPECT_EQ(annexe.text().find("The outputs of cryo-annexe hold again"), 0U) << annexe.text();
}

TEST(OutputLostAlarm, DropsTheRelayUnlessTheRelayIsWhatIsLost) {
  Answering annexe;
  static_cast<void>(annexe.find(true));
  EXPECT_TRUE(annexe.site->relay_energised(0));
  static_cast<void>(annexe.find(false));
  EXPECT_FALSE(annexe.site->relay_energised(0)) << "it may be all that still warns";
  static_cast<void>(annexe.find(false, true));
  EXPECT_TRUE(annexe.site->relay_energised(0)) << "else it could never be seen to hold again";
  static_cast<void>(annexe.find({}));
  EXPECT_TRUE(annexe.site->relay_energised(0)) << "not known to be found";
  static_cast<void>(annexe.find(false));
  EXPECT_FALSE(annexe.site->relay_energised(0)) << "found, and something else is lost";
  static_cast<void>(annexe.find(true));
  EXPECT_TRUE(annexe.site->relay_energised(0));
}

TEST(OutputLostAlarm, IsKeptOverARestartUntilTheOutputIsConfirmed) {
  Answering annexe;
  static_cast<void>(annexe.find(false));
  Answering next;
  PersonAct seen{alarms::Act::acknowledge, "Mira", "", 0ms};
  const auto acted =
      annexe.site->act("cryo-annexe", config::output_lost_name, seen, annexe.now, annexe.wall)->outcome.alarms;
  ASSERT_EQ(acted.size(), 1U);
  static_cast<void>(next.site->restore({acted[0].snapshot}, 1, next.now, next.wall));
  static_cast<void>(next.pass(250ms));
  EXPECT_EQ(next.lost(), State::acknowledged);
  static_cast<void>(next.find(true));
  EXPECT_EQ(next.lost(), State::normal);
}

} // namespace oxherd::daemon::output_lost_test
