#include <gtest/gtest.h>

#include "tests/config/sample.hpp"

namespace oxherd::alarm_problems_test {

using config_test::expect_said;

TEST(Problems, OfAlarmsNameThePlaceAndWhatIsAccepted) {
  expect_said({
      {R"(below = "19.5 %")",
       R"(below = "19.5 kPa")",
       {R"(site.toml:32:9: room.annexe.alarm.low-oxygen.below: "19.5 kPa" is a pressure; write a fraction such as "19.5 %")"}},
      {R"(below = "19.5 %")",
       "below = 19.5",
       {R"(site.toml:32:9: room.annexe.alarm.low-oxygen.below: 19.5 is a bare number; write a fraction with its unit in quotes, such as "19.5 %")"}},
      {R"(below = "19.5 %")",
       R"(below = "19 %")",
       {"site.toml:32:9: room.annexe.alarm.low-oxygen.below: 19 % is too low a limit where people are: 19.5 % at least "
        "(another alarm may then stand below it), unless an override_reason says why"}},
      {R"(below = "19.5 %")",
       R"(below = "0 %")",
       {"site.toml:32:9: room.annexe.alarm.low-oxygen.below: nothing is below zero; this alarm could never trip"}},
      {R"(below = "19.5 %")",
       "",
       {R"(site.toml:30:20: room.annexe.alarm.low-oxygen: needs a limit: below or above, for example below = "19.5 %")"}},
      {R"(below = "19.5 %")",
       R"(below = "19.5 %"
above = "23 %")",
       {"site.toml:33:9: room.annexe.alarm.low-oxygen.above: below is given as well; one alarm has one limit"}},
      {R"(below = "19.5 %")",
       R"(above = "20.9 %")",
       {R"(site.toml:13:7: room.annexe: warning: people are in it and it has oxygen sensors, but no low-oxygen alarm of class "safety"; add one with quantity = "oxygen" and below = "19.5 %")",
        "site.toml:32:9: room.annexe.alarm.low-oxygen.above: warning: limit less deadband lies within fresh air "
        "(20.946 %): this alarm would never clear"}},
      {R"(below = "19.5 %")",
       R"(below = "20.8 %")",
       {"site.toml:32:9: room.annexe.alarm.low-oxygen.below: warning: limit and deadband reach the 20.946 % of fresh "
        "air: this alarm would never clear"}},
      {R"(below = "19.5 %")",
       R"(below = "19.5 %"
deadband = "-0.1 %")",
       {R"(site.toml:33:12: room.annexe.alarm.low-oxygen.deadband: "-0.1 %" is outside 0 % to 100 %)"}},
      {R"(below = "19.5 %")",
       R"(below = "19.5 %"
on_delay = "11 s")",
       {R"(site.toml:33:12: room.annexe.alarm.low-oxygen.on_delay: 11 s is too long for an alarm of class "safety": 10 s at most, unless an override_reason says why)"}},
      {R"(below = "19.5 %")",
       R"(below = "19.5 %"
on_delay = "5 min"
override_reason = "slow room")",
       {"site.toml:30:20: room.annexe.alarm.low-oxygen: warning: from gas at the sensor to the alarm may take 321.5 s "
        "(response 20 s assumed, poll 1 s, on-delay 300 s, evaluation 0.5 s); 30 s at most is advised where people "
        "work"}},
      {R"(below = "19.5 %")",
       R"(below = "19.5 %"
override_reason = "because")",
       {"site.toml:33:19: room.annexe.alarm.low-oxygen.override_reason: warning: there is nothing to override; left "
        "here, it would also permit a later slip"}},
      {R"(below = "19.5 %")",
       R"(below = "19.5 %"
override_reason = " ")",
       {"site.toml:33:19: room.annexe.alarm.low-oxygen.override_reason: is empty"}},
      {R"(below = "19.5 %")",
       R"(below = "19.5 %"
priority = "hihg")",
       {R"(site.toml:33:12: room.annexe.alarm.low-oxygen.priority: "hihg" is not known; write "high", "low", "medium" or "critical")"}},
      {R"(below = "19.5 %")",
       R"(below = "19.5 %"
class = "safe")",
       {R"(site.toml:33:9: room.annexe.alarm.low-oxygen.class: "safe" is not known; write "safety" or "process")"}},
      {R"(below = "19.5 %")",
       R"(below = "19.5 %"
class = "process")",
       {R"(site.toml:13:7: room.annexe: warning: people are in it and it has oxygen sensors, but no low-oxygen alarm of class "safety"; add one with quantity = "oxygen" and below = "19.5 %")"}},
      {R"(below = "19.5 %")",
       R"(below = "19.5 %"
acknowledge_required = false)",
       {R"(site.toml:33:24: room.annexe.alarm.low-oxygen.acknowledge_required: may only be false for an alarm of class "process" and priority "low"; any other needs a person)"}},
      {R"(below = "19.5 %")",
       R"(below = "19.5 %"
shelve_at_most = "1 h")",
       {R"(site.toml:33:18: room.annexe.alarm.low-oxygen.shelve_at_most: an alarm of class "safety" cannot be shelved)"}},
      {R"(below = "19.5 %")",
       R"(below = "19.5 %"
silence_for = "11 min")",
       {R"(site.toml:33:15: room.annexe.alarm.low-oxygen.silence_for: "11 min" is outside 10 s to 10 min)"}},
      {R"(below = "19.5 %")",
       R"(below = "19.5 %"
off_dealy = "10 s")",
       {R"(site.toml:33:1: room.annexe.alarm.low-oxygen.off_dealy: unknown key; did you mean "off_delay"?)"}},
      {R"(quantity = "oxygen")",
       R"(quantity = "carbon-dioxide")",
       {R"(site.toml:31:12: room.annexe.alarm.low-oxygen.quantity: the room has no sensor that measures "carbon-dioxide")"}},
      {R"(quantity = "oxygen")",
       R"(quantity = "CO2")",
       {R"(site.toml:31:12: room.annexe.alarm.low-oxygen.quantity: "CO2" is not known; write "door", "oxygen", "monitoring", "carbon-dioxide" or "oxygen-partial-pressure")"}},
      {R"(quantity = "oxygen")",
       R"(quantity = "monitoring")",
       {R"(site.toml:31:12: room.annexe.alarm.low-oxygen.quantity: every room has this alarm already, named "not-monitored"; change its delays in a table of that name)"}},
      {R"(quantity = "oxygen"
)",
       "",
       {R"(site.toml:30:20: room.annexe.alarm.low-oxygen.quantity: missing; write for example quantity = "oxygen")"}},
      {R"([room.annexe.alarm.low-oxygen]
quantity = "oxygen"
below = "19.5 %")",
       R"([room.annexe.alarm.not-monitored]
quantity = "oxygen"
on_delay = "61 s"
class = "process")",
       {"site.toml:31:12: room.annexe.alarm.not-monitored.quantity: this name belongs to the alarm that the room is "
        "not monitored; give another alarm another name",
        R"(site.toml:32:12: room.annexe.alarm.not-monitored.on_delay: "61 s" is outside 0 s to 60 s)",
        R"(site.toml:33:1: room.annexe.alarm.not-monitored.class: unknown key; known here: "on_delay", "latching", "quantity", "off_delay" or "priority")"}},
      {"[room.annexe.alarm.low-oxygen]",
       R"([room.annexe.alarm.thin]
quantity = "oxygen-partial-pressure"
below = "20.6 kPa"

[room.annexe.alarm.low-oxygen])",
       {"site.toml:32:9: room.annexe.alarm.thin.below: warning: fresh air at 212 m has only 20.7 kPa of oxygen: this "
        "alarm would never clear"}},
      {"unit = 11",
       R"(unit = 11
every = "10 s")",
       {"site.toml:31:20: room.annexe.alarm.low-oxygen: warning: from gas at the sensor to the alarm may take 33.5 s "
        "(response 20 s assumed, poll 10 s, on-delay 3 s, evaluation 0.5 s); 30 s at most is advised where people "
        "work"}},
  });
}

} // namespace oxherd::alarm_problems_test
