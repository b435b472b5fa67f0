#include "daemon/control/facts.hpp"

#include <algorithm>

#include <gtest/gtest.h>

#include "tests/daemon/control/room_look.hpp"

namespace oxherd::daemon::facts_test {
namespace {

using control::Condition;
using control::Truth;
using rig_test::RoomLook;
using std::chrono::seconds;

/// The conditions of one actuator that are not a room's: they are left open.
constexpr std::array own_conditions{Condition::carbon_dioxide_below_ceiling,
                                    Condition::vents_closed,
                                    Condition::device_holds,
                                    Condition::started_by_person,
                                    Condition::within_longest_run,
                                    Condition::oxygen_falls,
                                    Condition::not_tripped};

TEST(FactsOfARoom, AllHoldWhereAllIsWell) {
  RoomLook look{rig_test::pear_store};
  const auto facts = look.facts();
  for (const auto condition : control::all_conditions()) {
    const bool own = std::ranges::find(own_conditions, condition) != own_conditions.end();
    const bool absent = condition == Condition::lights_on || condition == Condition::air_circulates; // no such contact
    EXPECT_EQ(facts[condition], own || absent ? Truth::not_fitted : Truth::holds) << control::name_of(condition);
  }
}

struct Contact {
  const char* sensor;
  Condition condition;
  std::string_view because; ///< where it fails
};
constexpr std::array contacts_of_the_store{Contact{"door", Condition::door_closed, "the door is open"},
                                           Contact{"people", Condition::nobody_in, "people are in the room"},
                                           Contact{"relief", Condition::relief_free, "the relief valve is isolated"}};

TEST(FactsOfARoom, AContactFailsItsConditionAndNoOther) {
  for (const auto& contact : contacts_of_the_store) {
    RoomLook look{rig_test::pear_store};
    const auto before = look.facts();
    look.answer(contact.sensor, 1.0);
    const auto facts = look.facts();
    for (const auto condition : control::all_conditions())
      EXPECT_EQ(facts[condition], condition == contact.condition ? Truth::fails : before[condition])
          << contact.sensor << ": " << control::name_of(condition);
    EXPECT_EQ(facts.why[control::index_of(contact.condition)], contact.because);
  }
}

TEST(FactsOfARoom, OneMissedAnswerIsToldApartFromALostContact) {
  for (const auto& contact : contacts_of_the_store) {
    RoomLook look{rig_test::pear_store};
    look.now += seconds{1};
    look.miss(contact.sensor);
    EXPECT_EQ(look.facts()[contact.condition], Truth::missed) << contact.sensor;
    look.now += seconds{60};
    look.miss(contact.sensor);
    EXPECT_EQ(look.facts()[contact.condition], Truth::unknown) << contact.sensor << " is too old by now";
    look.answer(contact.sensor, 0.0);
    EXPECT_EQ(look.facts()[contact.condition], Truth::holds) << contact.sensor;
  }
}

TEST(FactsOfARoom, AContactThatNeverAnsweredIsUnknown) {
  RoomLook look{rig_test::pear_store};
  for (std::size_t s = 0; s < look.room().sensors.size(); ++s) {
    auto& state = look.states.front()[s];
    state = {};
    state.channels.resize(look.room().sensors[s].points.size());
  }
  const auto facts = look.facts();
  for (const auto& contact : contacts_of_the_store) EXPECT_EQ(facts[contact.condition], Truth::unknown);
}

TEST(FactsOfARoom, OnlyAPersonSealsARoomAndADoorUnsealsIt) {
  RoomLook look{rig_test::pear_store};
  look.regime.by.clear();
  EXPECT_EQ(look.facts()[Condition::sealed], Truth::fails) << "the file alone has seen nobody leave";
  look.regime.by = "Mira";
  look.regime.broken = true;
  EXPECT_EQ(look.facts()[Condition::sealed], Truth::fails);
  look.regime.broken = false;
  EXPECT_EQ(look.facts()[Condition::sealed], Truth::holds);
  look.regime.regime = alarms::Regime::ventilated_before_entry;
  EXPECT_EQ(look.facts()[Condition::sealed], Truth::fails);
}

TEST(FactsOfARoom, EveryCellOfAGasMustBeGood) {
  struct Gas {
    std::vector<alarms::Channel> WatchedQuantities::*channels;
    Condition condition;
    const char* sensor;
  };
  for (const auto& gas : {Gas{&WatchedQuantities::oxygen, Condition::oxygen_measured, "cell"},
                          Gas{&WatchedQuantities::carbon_dioxide, Condition::carbon_dioxide_measured, "gas"}}) {
    RoomLook look{rig_test::pear_store};
    auto& channels = look.watched.*gas.channels;
    channels.push_back(channels.front());
    EXPECT_EQ(look.facts()[gas.condition], Truth::holds);
    for (const auto quality : {alarms::Quality::uncertain, alarms::Quality::bad}) {
      channels.back().quality = quality;
      EXPECT_EQ(look.facts()[gas.condition], Truth::unknown) << "one of two is enough for a vote, not for a gas";
    }
    channels.back().quality = alarms::Quality::good;
    channels.back().frozen = true;
    EXPECT_EQ(look.facts()[gas.condition], Truth::unknown);
    channels.back().frozen = false;
    look.miss(gas.sensor);
    EXPECT_EQ(look.facts()[gas.condition], Truth::missed) << "the channel is good as long as its sample is young";
    look.answer(gas.sensor, 0.02);
    look.watched.monitored = false;
    EXPECT_EQ(look.facts()[gas.condition], Truth::unknown);
    look.watched.monitored = true;
    channels.clear();
    EXPECT_EQ(look.facts()[gas.condition], Truth::fails) << "nothing measures it";
  }
}

TEST(FactsOfARoom, OverPressureIsJudgedWithItsUncertaintyEitherWay) {
  RoomLook look{rig_test::pear_store};
  const auto& sensor = look.room().sensors[5];
  ASSERT_EQ(sensor.name, "draught");
  const double most = look.room().over_pressure_most_Pa, margin = look.room().coverage_factor * sensor.points[0].u_si;
  ASSERT_GT(margin, 0.0);
  for (const double sign : {-1.0, 1.0}) {
    look.answer("draught", sign * (most - margin - 0.001));
    EXPECT_EQ(look.facts()[Condition::over_pressure_within], Truth::holds);
    look.answer("draught", sign * (most - margin + 0.001));
    EXPECT_EQ(look.facts()[Condition::over_pressure_within], Truth::fails);
    EXPECT_EQ(look.facts()[Condition::over_pressure_measured], Truth::holds);
  }
  look.answer("draught", 0.0);
  look.now += seconds{60};
  EXPECT_EQ(look.facts()[Condition::over_pressure_measured], Truth::unknown);
  EXPECT_EQ(look.facts()[Condition::over_pressure_within], Truth::unknown);
}

TEST(FactsOfARoom, AlarmAndLockAreTakenAsTheyAre) {
  RoomLook look{rig_test::pear_store};
  look.safety_alarm = true;
  look.entry_withheld = false;
  EXPECT_EQ(look.facts()[Condition::no_safety_alarm], Truth::fails);
  EXPECT_EQ(look.facts()[Condition::entry_withheld], Truth::fails);
  look.entry_withheld.reset();
  EXPECT_EQ(look.facts()[Condition::entry_withheld], Truth::not_fitted) << "the door has no lock";
}

TEST(ContactsOfAKind, OneInItsStateIsEnoughAndOneLostLeavesTheRestUnknown) {
  RoomLook look{rig_test::bay};
  const auto found = [&] {
    return contacts_of(look.room(), look.states.front(), config::Measurand::occupancy, look.now).is;
  };
  using State = ContactsFound::State;
  // A second one of the same kind.
  auto second = look.room().sensors[4];
  ASSERT_EQ(second.name, "people");
  second.name = "people-behind";
  look.settings.rooms.front().sensors.push_back(second);
  look.states.front().emplace_back().channels.resize(1);
  look.answer("people-behind", 0.0);
  EXPECT_EQ(found(), State::no);
  look.answer("people", 1.0);
  EXPECT_EQ(found(), State::yes);
  look.miss("people-behind");
  EXPECT_EQ(found(), State::yes) << "what one says counts, whatever became of the other";
  look.answer("people", 0.0);
  EXPECT_EQ(found(), State::missed);
  look.now += seconds{60};
  look.answer("people", 0.0);
  EXPECT_EQ(found(), State::unknown);
}

} // namespace
} // namespace oxherd::daemon::facts_test
