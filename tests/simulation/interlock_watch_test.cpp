// Whether the watch over the interlocks of every closed loop would see what it is there for.
#include <gtest/gtest.h>

#include "demo/site.hpp"
#include "demo/story.hpp"
#include "tests/simulation/interlock_watch.hpp"

namespace oxherd::simulation::interlock_watch_test {

using control::Duty;

constexpr double cycle_s = 2.0;

/// A gas valve that is driven on in a room to which this has happened; empty: nothing.
struct Driven {
  Driven(std::string_view room, Duty duty, const std::string& happened) : room_{room} {
    world.drive(room, {.vents_open = false, .circulation_fan = true});
    world.advance(std::chrono::seconds{10});
    if (!happened.empty() && !world.apply(demo::parse_order(happened).value())) ADD_FAILURE() << happened;
    valve_.name = "valve";
    valve_.duty = duty;
    valve_.state = &state;
    valve_.driven = 1.0;
  }
  std::vector<std::string> look(double at_s) { return watch.look({*world.room(room_), {valve_}, sealed, lit, at_s}); }

  demo::Site world{1};
  control::ActuatorState state{};
  InterlockWatch watch{cycle_s};
  bool sealed = true, lit = true;

private:
  std::string_view room_;
  daemon::ActuatorView valve_{};
};

struct Row {
  std::string_view room;
  Duty duty;
  const char* happened;
};
const Row rows[] = {{"pear-store-2", Duty::nitrogen_purge, "door pear-store-2 1"},
                    {"pear-store-2", Duty::nitrogen_purge, "people pear-store-2 1"},
                    {"pear-store-2", Duty::nitrogen_purge, "relief-isolated pear-store-2 1"},
                    {"growth-chamber-1", Duty::carbon_dioxide_dosing, "people growth-chamber-1 1"}};

TEST(InterlockWatch, IsContentWithGasInARoomWhereNothingSpeaksAgainstIt) {
  for (const auto& row : rows) {
    Driven valve{row.room, row.duty, ""};
    for (double at_s = 0.0; at_s < 100.0; ++at_s) EXPECT_TRUE(valve.look(at_s).empty());
  }
}

TEST(InterlockWatch, SeesGasThatGoesOnForLongerThanACycle) {
  for (const auto& row : rows) {
    SCOPED_TRACE(row.happened);
    Driven valve{row.room, row.duty, row.happened};
    EXPECT_TRUE(valve.look(100.0).empty());
    EXPECT_TRUE(valve.look(100.0 + cycle_s).empty());
    EXPECT_FALSE(valve.look(105.0).empty()) << "the pressure shows two seconds later";
  }
}

TEST(InterlockWatch, SeesGasInTheDarkAndInARoomThatNobodyHasSealed) {
  Driven dosed{"growth-chamber-1", Duty::carbon_dioxide_dosing, ""};
  dosed.lit = false;
  EXPECT_TRUE(dosed.look(0.0).empty());
  EXPECT_FALSE(dosed.look(3.0).empty());
  Driven purged{"pear-store-2", Duty::nitrogen_purge, ""};
  purged.sealed = false;
  EXPECT_TRUE(purged.look(0.0).empty());
  EXPECT_FALSE(purged.look(3.0).empty());
}

TEST(InterlockWatch, SeesAtOnceThatAGasIsOnAgainstWhatIsReported) {
  Driven valve{"growth-chamber-1", Duty::carbon_dioxide_dosing, ""};
  valve.state.blocks = {{control::Condition::lights_on, control::Truth::fails, "the lights are off"}};
  EXPECT_EQ(valve.look(0.0).size(), 1U);
}

} // namespace oxherd::simulation::interlock_watch_test
