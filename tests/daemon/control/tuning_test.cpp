// A person lets a loop of a growth chamber swing, to learn how it must be tuned; the air is a plant of the textbooks.
#include <numbers>

#include <gtest/gtest.h>

#include "tests/control/loops/plants.hpp"
#include "tests/daemon/control/rig.hpp"

namespace oxherd::daemon::tuning_test {

using rig_test::Rig;
using std::chrono::hours;
using std::chrono::minutes;
using std::chrono::seconds;

std::string replaced(std::string text, std::string_view what, std::string_view by) {
  const auto at = text.find(what);
  EXPECT_NE(at, std::string::npos) << what;
  return text.replace(at, what.size(), by);
}

/// The chamber with a heater that holds 22 °C, `loop` added to its loop and `output` to its actuator.
std::string heated(std::string_view loop = "", std::string_view output = "") {
  auto text = std::string{rig_test::chamber};
  const auto program = text.find("[room.growth-chamber-1.loop.heat.program]");
  text.erase(program, text.find("[room.growth-chamber-1.loop.cold]") - program);
  text = replaced(std::move(text), "output = \"heater\"\n",
                  "output = \"heater\"\nset_point = \"22 °C\"\n" + std::string{loop});
  return replaced(std::move(text), "duty = \"heating\"\n", "duty = \"heating\"\n" + std::string{output});
}
std::string pulsed(std::string_view loop = "") {
  return replaced(heated("method = \"time-proportioned\"\n" + std::string{loop}), "register = 0", "coil = 0");
}

/// 12 °C without heat and 32 °C with all of it, behind three lags: 22 °C takes half of it.
struct Chamber : Rig {
  static constexpr double cold_C = 12.0, span_K = 20.0, lag_s = 120.0;
  control::plants::ThreeLags air{0.5, 0.5, 0.5};
  bool moved_by_heat = true;

  explicit Chamber(const std::string& text = heated()) : Rig{text} {
    values["cell/oxygen"] = 0.2095;
    values["air/humidity"] = 0.65;
    set(cold_C + span_K * 0.5);
    run(seconds{2});
    hold(0.5); // which the controller follows: it begins where it would be after some hours
  }
  void hold(double output) {
    EXPECT_EQ(Rig::order("heater", control::ActuatorAct::hold, output), "");
    for (int i = 0; i < 2; ++i) second();
    EXPECT_EQ(Rig::order("heater", control::ActuatorAct::automatic), "");
    second();
  }
  void set(double celsius) { values["air/temperature"] = 273.15 + celsius; }
  void step() {
    second();
    if (moved_by_heat) set(cold_C + span_K * air.step(driven("heater"), 1.0 / lag_s));
  }
  void run(seconds time) {
    for (int i = 0; i < time.count(); ++i) step();
  }
  [[nodiscard]] LoopStatus loop() const { return actuator("heater").loop.value(); }
  [[nodiscard]] TuningStatus tuning() const { return loop().tuning.value(); }
  /// What is said to the person; empty: it is done.
  std::string order(TuningOrder asked) {
    asked.by = "R. Okafor";
    return order_of(PlantControl::LoopOrder{std::move(asked)});
  }
  std::string order_of(const PlantControl::LoopOrder& asked) {
    auto acted = site->order("growth-chamber-1", "heat", asked, now, wall);
    if (!acted) return "there is no such loop";
    lines.insert(lines.end(), acted->outcome.room_events.begin(), acted->outcome.room_events.end());
    return acted->refusal.value_or("");
  }
  [[nodiscard]] std::string events() const { return events_of("loop/heat"); }
  [[nodiscard]] std::string last_line() const { return lines.back().text; }
};

/// 20 °C to 24 °C, whatever else is asked for.
TuningOrder between_20_and_24() {
  TuningOrder order;
  order.act = TuningOrder::Act::begin;
  order.low = "20 degC";
  order.high = "24 degC";
  order.because = "new heater";
  return order;
}
/// With all of the heater, and hardly any hysteresis: as the textbook has it.
TuningOrder by_the_textbook() {
  auto order = between_20_and_24();
  order.hysteresis = "0.0001 K";
  order.output = TuningOrder::Levels{0.0, 1.0};
  return order;
}
TuningOrder ended_by_hand() {
  TuningOrder order;
  order.act = TuningOrder::Act::end;
  return order;
}

// Three equal lags T behind a gain K and a dead time L: 3 atan(w T) + w L = pi, Ku = (1 + w^2 T^2)^(3/2) / K and
// Pu = 2 pi / w, by hand (8 / K and 2 pi T / sqrt(3) without dead time). Samples a second apart are half a second of
// it. relay_tuning.hpp: gain 2 % too low, period 1 % too long.
TEST(Tuning, FindsTheUltimateGainAndPeriodOfThreeLags) {
  Chamber chamber;
  ASSERT_EQ(chamber.order(by_the_textbook()), "");
  while (chamber.tuning().running) chamber.step();
  const auto found = chamber.tuning();
  ASSERT_FALSE(found.running);
  ASSERT_TRUE(found.ultimate) << found.outcome;
  double w_T = std::sqrt(3.0);
  for (int i = 0; i < 20; ++i) w_T = std::tan((std::numbers::pi - w_T * 0.5 / Chamber::lag_s) / 3.0);
  const double gain = std::pow(1.0 + w_T * w_T, 1.5) / Chamber::span_K;
  const double period_s = 2.0 * std::numbers::pi * Chamber::lag_s / w_T;
  EXPECT_NEAR(found.ultimate->gain / gain, 0.98, 0.005) << "to the last digit that is stated";
  EXPECT_NEAR(found.ultimate->period_s / period_s, 1.01, 0.005);
  EXPECT_FALSE(found.ultimate->lopsided);
  EXPECT_EQ(chamber.events(), "tune tuning-finished");
}

TEST(Tuning, ProposesWhatThePersonPutsIntoTheSettings) {
  Chamber chamber;
  ASSERT_EQ(chamber.order(by_the_textbook()), "");
  while (chamber.tuning().running) chamber.step();
  const auto found = chamber.tuning();
  ASSERT_EQ(found.proposals.size(), control::all_tuning_rules.size());
  EXPECT_TRUE(found.proposals.front().by_default);
  EXPECT_EQ(found.proposals.front().rule, "cautious-pi");
  for (const auto& proposal : found.proposals) {
    SCOPED_TRACE(proposal.settings);
    std::string lines = proposal.settings;
    for (auto comma = lines.find(", "); comma != std::string::npos; comma = lines.find(", "))
      lines.replace(comma, 2, "\n");
    const auto pid = rig_test::settings_of(heated(lines + '\n')).rooms[0].loops[0].pid;
    EXPECT_NEAR(1.0 / pid.gain, proposal.proportional_band, 0.005 * proposal.proportional_band);
    if (proposal.integral_time_s) {
      EXPECT_NEAR(*pid.integral_time_s, *proposal.integral_time_s, 0.5);
    }
    EXPECT_NEAR(pid.derivative_time_s, proposal.derivative_time_s, 0.5);
  }
  // Tyreus and Luyben: gain Ku / 3.2, integral time 2.2 Pu.
  EXPECT_NEAR(found.proposals.front().proportional_band, 3.2 / found.ultimate->gain, 1e-9);
  EXPECT_NEAR(*found.proposals.front().integral_time_s, 2.2 * found.ultimate->period_s, 1e-9);
  EXPECT_NE(chamber.last_line().find(found.proposals.front().settings), std::string::npos) << chamber.last_line();
  EXPECT_NE(chamber.last_line().find("begun by R. Okafor"), std::string::npos) << chamber.last_line();
}

TEST(Tuning, GivesTheLoopBackWithoutABump) {
  Chamber chamber;
  ASSERT_EQ(chamber.order(by_the_textbook()), "");
  while (chamber.tuning().running) chamber.step();
  // At the end the value is just below the set-point, and the mean of a swing is what the chamber needs there.
  EXPECT_NEAR(chamber.driven("heater"), 0.5, 0.01);
  EXPECT_EQ(chamber.actuator("heater").decided_by, "loop");
  const double swing_K = chamber.tuning().ultimate->swing;
  for (double before = chamber.driven("heater"); chamber.tuning().ended > chamber.wall - hours{1};) {
    chamber.step();
    ASSERT_NEAR(chamber.driven("heater"), before, 0.01) << "no second moves it by more";
    before = chamber.driven("heater");
  }
  EXPECT_NEAR(*chamber.loop().value, 22.0, 0.05 * swing_K) << "the swing has died down";
}

TEST(Tuning, GoesBetweenItsLevelsAtTheSetPoint) {
  Chamber chamber;
  ASSERT_EQ(chamber.order(between_20_and_24()), "");
  chamber.moved_by_heat = false;
  for (const auto& [celsius, output] : {std::pair{21.5, 1.0}, std::pair{22.09, 1.0}, std::pair{22.11, 0.0},
                                        std::pair{21.91, 0.0}, std::pair{21.89, 1.0}}) {
    chamber.set(celsius);
    chamber.second();
    EXPECT_EQ(chamber.driven("heater"), output) << celsius << ": 0.1 K to each side when nothing is said";
  }
  const auto told = chamber.tuning();
  EXPECT_TRUE(told.running);
  EXPECT_EQ(told.by + ": " + told.because, "R. Okafor: new heater");
  EXPECT_NEAR(told.low, 20.0, 1e-9);
  EXPECT_NEAR(told.high, 24.0, 1e-9);
  EXPECT_NEAR(told.hysteresis, 0.1, 1e-9);
  EXPECT_EQ(told.longest_s, 7200.0);
  EXPECT_NE(chamber.actuator("heater").because.find("R. Okafor tunes the loop"), std::string::npos);
}

TEST(Tuning, TakesLevelsEvenlyAroundTheOutputOfNow) {
  // A fifth is the least that such levels span: 5 % is too near the end.
  for (const auto& [output, low, high] :
       {std::tuple{0.2, 0.0, 0.4}, std::tuple{0.7, 0.4, 1.0}, std::tuple{0.05, 0.0, 1.0}}) {
    Chamber chamber;
    chamber.moved_by_heat = false;
    chamber.hold(output);
    ASSERT_EQ(chamber.order(between_20_and_24()), "");
    EXPECT_NEAR(chamber.tuning().output_low, low, 0.001) << output;
    EXPECT_NEAR(chamber.tuning().output_high, high, 0.001) << output;
  }
}

TEST(Tuning, SwitchesACoilWithoutPulses) {
  Chamber chamber{pulsed()};
  ASSERT_EQ(chamber.order(between_20_and_24()), "");
  while (chamber.tuning().running) chamber.step();
  const auto found = chamber.tuning();
  ASSERT_TRUE(found.ultimate) << found.outcome;
  EXPECT_EQ(found.output_low, 0.0);
  EXPECT_EQ(found.output_high, 1.0);
}

/// What an experiment comes to that is under way when something happens.
struct Ended {
  std::string outcome, events;
  LoopStatus loop;
  double driven = 0.0;
};
template <class Happens> Ended ended_by(Happens happens, const std::string& text = heated()) {
  Chamber chamber{text};
  EXPECT_EQ(chamber.order(between_20_and_24()), "");
  chamber.moved_by_heat = false;
  chamber.set(21.8);
  chamber.run(seconds{5});
  EXPECT_EQ(chamber.driven("heater"), 1.0) << "the relay is up";
  happens(chamber);
  EXPECT_FALSE(chamber.tuning().running);
  EXPECT_TRUE(chamber.tuning().proposals.empty());
  return {chamber.tuning().outcome, chamber.events(), chamber.loop(), chamber.driven("heater")};
}

TEST(Tuning, IsEndedByAPerson) {
  const auto ended = ended_by([](Chamber& chamber) {
    EXPECT_EQ(chamber.order(ended_by_hand()), "");
    chamber.second();
    EXPECT_EQ(chamber.order(ended_by_hand()), "no tuning experiment is running");
  });
  EXPECT_EQ(ended.outcome, "R. Okafor ended it");
  EXPECT_EQ(ended.events, "tune end-tuning end-tuning-refused");
  EXPECT_NEAR(ended.driven, 0.5, 0.06) << "what the loop gave before, and its answer to 0.2 K";
}

TEST(Tuning, IsEndedByAHandOnTheOutput) {
  const auto ended = ended_by([](Chamber& chamber) {
    EXPECT_EQ(chamber.Rig::order("heater", control::ActuatorAct::hold, 0.3), "");
    chamber.second();
    EXPECT_DOUBLE_EQ(chamber.driven("heater"), 0.3);
    EXPECT_FALSE(chamber.tuning().running) << "at once";
    EXPECT_EQ(chamber.Rig::order("heater", control::ActuatorAct::automatic), "");
    chamber.second();
  });
  EXPECT_EQ(ended.outcome, "a person decides what the actuator does: R. Okafor: after loading");
  EXPECT_NEAR(ended.driven, 0.3, 0.01) << "the controller has followed the hand";
}

TEST(Tuning, YieldsToAnInterlockAtOnce) {
  const auto ended = ended_by(
      [](Chamber& chamber) {
        chamber.values["cell/oxygen"] = 0.15;
        chamber.run(minutes{1});
        EXPECT_EQ(chamber.state("low-oxygen"), alarms::State::unacknowledged);
        EXPECT_EQ(chamber.actuator("heater").decided_by, "interlock");
      },
      heated("", "needs = [\"no-safety-alarm\"]\n"));
  EXPECT_EQ(ended.driven, 0.0);
  EXPECT_TRUE(ended.outcome.starts_with("an interlock decides what the actuator does: ")) << ended.outcome;
  EXPECT_EQ(ended.events, "tune tuning-ended");
}

TEST(Tuning, IsEndedWithoutItsValueAndTheActuatorIsSafe) {
  const auto ended = ended_by([](Chamber& chamber) {
    chamber.silent.insert("air");
    chamber.run(minutes{1});
    EXPECT_EQ(chamber.actuator("heater").decided_by, "safe-state");
  });
  EXPECT_EQ(ended.outcome, "the value was lost");
  EXPECT_EQ(ended.driven, 0.0);
}

TEST(Tuning, IsEndedByAValueBeyondItsLimits) {
  const auto ended = ended_by([](Chamber& chamber) {
    chamber.set(24.1);
    chamber.run(seconds{2});
  });
  EXPECT_EQ(ended.outcome, "the value left the limits of the experiment");
  EXPECT_EQ(ended.loop.tuning->swings, 0);
}

TEST(Tuning, IsEndedWhenItTakesTooLong) {
  Chamber chamber;
  chamber.moved_by_heat = false;
  auto order = between_20_and_24();
  order.longest = minutes{5};
  ASSERT_EQ(chamber.order(order), "");
  chamber.run(minutes{5} - seconds{1});
  EXPECT_TRUE(chamber.tuning().running);
  chamber.run(seconds{1});
  EXPECT_EQ(chamber.tuning().outcome, "the experiment took longer than it may");
}

TEST(Tuning, IsEndedByADeviceThatDoesNotHoldWhatItWasTold) {
  const auto ended = ended_by([](Chamber& chamber) {
    chamber.unconfirmed["heater"] = true;
    chamber.run(seconds{2});
  });
  EXPECT_EQ(ended.outcome, "the actuator's device does not hold what it was told");
}

TEST(Tuning, IsEndedByAReloadAndTold) {
  const auto ended = ended_by([](Chamber& chamber) {
    chamber.reload(heated());
    chamber.second();
  });
  EXPECT_EQ(ended.outcome, "the settings were loaded anew");
  EXPECT_EQ(ended.events, "tune tuning-ended");
  EXPECT_NEAR(ended.driven, 0.5, 0.06);
}

TEST(Tuning, DoesNotOutliveTheDaemon) {
  Chamber chamber;
  ASSERT_EQ(chamber.order(between_20_and_24()), "");
  chamber.run(seconds{5});
  chamber.restart();
  chamber.run(seconds{5});
  EXPECT_FALSE(chamber.loop().tuning);
}

TEST(Tuning, IsEndedByASetPointThatMoves) {
  Chamber chamber{std::string{rig_test::chamber}};
  chamber.moved_by_heat = false;
  chamber.set(24.0);
  const WallTime ten = WallTime{std::chrono::sys_days{std::chrono::year{2026} / 3 / 1}} + hours{22};
  chamber.now += ten - chamber.wall - seconds{10}; // its program goes to 18 °C then
  chamber.wall = ten - seconds{10};
  chamber.run(seconds{3});
  auto order = between_20_and_24();
  order.high = "28 degC";
  ASSERT_EQ(chamber.order(order), "");
  chamber.run(seconds{3});
  EXPECT_TRUE(chamber.tuning().running);
  chamber.run(seconds{10});
  EXPECT_EQ(chamber.tuning().outcome, "the set-point moved: hold the program for the time of the experiment");
}

TEST(AnExperiment, IsEndedByAnUncertainValueAndByAnotherSetPoint) {
  const auto settings = rig_test::settings_of(heated());
  const auto& loop = settings.rooms[0].loops[0];
  const LoopNow at{{295.15, false, ""}, 295.15, 0.5};
  const Monotonic now{1000};
  auto tuning = tuning_of(loop, at, between_20_and_24(), now);
  ASSERT_TRUE(tuning) << tuning.error();
  auto moved = *tuning;
  EXPECT_TRUE(tuning->step({295.2, false, ""}, 295.15, now));
  EXPECT_FALSE(tuning->step({295.2, true, "the probe is old"}, 295.15, now));
  EXPECT_EQ(tuning->outcome, "the value became uncertain");
  EXPECT_FALSE(moved.step({295.2, false, ""}, 295.20, now));
  EXPECT_EQ(moved.outcome, "the set-point moved: hold the program for the time of the experiment");
}

TEST(Tuning, IsRefusedWithWordsThatSayWhatToDo) {
  const auto refusal = [](auto change, const std::string& text = heated()) {
    Chamber chamber{text};
    auto order = between_20_and_24();
    change(chamber, order);
    const auto said = chamber.order(order);
    EXPECT_FALSE(chamber.loop().tuning && chamber.loop().tuning->by.empty());
    return said;
  };
  const auto of_order = [&](auto change) { return refusal([&](Chamber&, TuningOrder& order) { change(order); }); };
  EXPECT_EQ(of_order([](auto& order) { order.because.clear(); }), "say why it is tuned");
  EXPECT_EQ(of_order([](auto& order) { order.low.clear(); }),
            "say between which values it may swing: low and high, with their unit, such as \"21 °C\"");
  EXPECT_TRUE(of_order([](auto& order) { order.low = "20"; }).starts_with("low: "));
  EXPECT_TRUE(of_order([](auto& order) { order.high = "24 kPa"; }).starts_with("high: \"24 kPa\" is a pressure"));
  EXPECT_TRUE(of_order([](auto& order) { order.hysteresis = "1 %"; }).starts_with("hysteresis: "));
  EXPECT_EQ(of_order([](auto& order) { order.high = "19 degC"; }),
            "low must be below high, and they are 20.0 °C and 19.0 °C");
  EXPECT_EQ(of_order([](auto& order) { order.low = "21.92 degC"; }),
            "the set-point 22.0 °C with 0.100 K to each side is not inside 21.9 °C to 24.0 °C: give limits around it");
  EXPECT_EQ(of_order([](auto& order) { order.longest = hours{9}; }), "an experiment takes 8 h at most");
  EXPECT_EQ(of_order([](auto& order) {
              order.output = TuningOrder::Levels{0.6, 0.6};
            }),
            "output: a lower and an upper level within 0%..100%, as the settings of the loop permit");
  EXPECT_EQ(refusal(
                [](Chamber&, TuningOrder& order) {
                  order.output = TuningOrder::Levels{0.2, 0.7};
                },
                heated("output_high = \"60 %\"\n")),
            "output: a lower and an upper level within 0%..60%, as the settings of the loop permit");
  EXPECT_EQ(refusal(
                [](Chamber&, TuningOrder& order) {
                  order.output = TuningOrder::Levels{0.2, 0.7};
                },
                pulsed()),
            "output: a coil is on or off while it is tuned: leave the levels out");
  EXPECT_TRUE(refusal([](Chamber&, TuningOrder&) {}, pulsed("output_high = \"60 %\"\n"))
                  .starts_with("its settings keep the output from 0 % to 60 %"));
  EXPECT_EQ(refusal([](Chamber& chamber, TuningOrder&) {
              chamber.moved_by_heat = false;
              chamber.set(24.5);
              chamber.run(seconds{2});
            }),
            "temperature is 24.5 °C, outside 20.0 °C to 24.0 °C: wait until it is inside, or give wider limits");
  EXPECT_TRUE(refusal([](Chamber& chamber, TuningOrder&) {
                chamber.silent.insert("air");
                chamber.run(minutes{1});
              }).starts_with("temperature is not known, and an experiment needs a good value: "));
  EXPECT_EQ(refusal([](Chamber& chamber, TuningOrder& order) { EXPECT_EQ(chamber.order(order), ""); }),
            "an experiment of R. Okafor is running: end it first, with \"end-tuning\"");
  EXPECT_TRUE(refusal([](Chamber& chamber, TuningOrder&) {
                EXPECT_EQ(chamber.Rig::order("heater", control::ActuatorAct::hold, 0.3), "");
                chamber.second();
              }).starts_with("a person decides what the heating does"));
  EXPECT_TRUE(refusal(
                  [](Chamber& chamber, TuningOrder&) {
                    chamber.values["cell/oxygen"] = 0.15;
                    chamber.run(minutes{1});
                  },
                  heated("", "needs = [\"no-safety-alarm\"]\n"))
                  .starts_with("the heating is blocked: "));
}

/// What is said of a loop that is never tuned so.
std::string refused_at(std::string_view text, const std::string& room, const std::string& loop) {
  Rig rig{text};
  rig.run(seconds{2});
  auto order = between_20_and_24();
  order.by = "R. Okafor";
  return rig.site->order(room, loop, order, rig.now, rig.wall)->refusal.value_or("");
}

TEST(Tuning, IsRefusedWhereThereIsNoControllerOrNoSetPoint) {
  EXPECT_TRUE(refused_at(rig_test::chamber, "growth-chamber-1", "cold").starts_with("it switches on and off"));
  auto text = std::string{rig_test::chamber};
  text = replaced(text,
                  "steps = [{ at = \"06:00\", to = \"24 °C\", per_hour = \"3 K\" }, { at = \"22:00\", to = "
                  "\"18 °C\", per_hour = \"3 K\" }]",
                  "kind = \"elapsed\"\nsteps = [{ to = \"30 °C\", soak = \"10 min\" }, { to = \"20 °C\" }]");
  EXPECT_TRUE(refused_at(text, "growth-chamber-1", "heat").starts_with("it has no set-point now"));
}

TEST(Tuning, IsRefusedForEveryGas) {
  EXPECT_TRUE(
      refused_at(rig_test::pear_store, "pear-store-2", "oxygen").starts_with("the nitrogen purge lets a gas in"));
  EXPECT_TRUE(
      refused_at(rig_test::bay, "bay-3", "enrichment").starts_with("the dosing of carbon dioxide lets a gas in"));
  for (const auto duty : control::all_duties)
    EXPECT_EQ(never_tuned(duty).empty(), !control::facts_of(duty).gas) << name_of(duty);
}

} // namespace oxherd::daemon::tuning_test
