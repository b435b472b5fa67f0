#include <gtest/gtest.h>

#include "tests/config/sample.hpp"

namespace oxherd::room_problems_test {

using config_test::expect_said;

TEST(Problems, OfRoomsAndSensorsNameThePlaceAndWhatIsAccepted) {
  expect_said({
      {R"(regime = "occupied")",
       R"(regime = "ocupied")",
       {R"(site.toml:14:10: room.annexe.regime: "ocupied" is not known; write "occupied", "enriched", "sealed-low-oxygen" or "ventilated-before-entry")"}},
      {R"([room.annexe]
)",
       R"([room."Annexe 1"]
)",
       {R"(site.toml:13:7: room.Annexe 1: "Annexe 1" cannot name a room; use lower-case letters, digits and single dashes, at most 63 characters)",
        "site.toml:13:7: room.Annexe 1: warning: has no sensor: it will stand as not monitored"}},
      {"[room.annexe.sensor.air]",
       "[room.annexe.sensor.state]",
       {R"(site.toml:24:21: room.annexe.sensor.state: "state" is a topic of the room itself; name the sensor otherwise)"}},
      {R"(regime = "occupied")",
       R"(regime = "occupied"
oxygen_vote = "2oo3")",
       {R"(site.toml:15:15: room.annexe.oxygen_vote: "2oo3" is a vote of 3, but the room has 1 oxygen sensor; "1oo1" fits)"}},
      {R"(regime = "occupied")",
       R"(regime = "occupied"
co2_vote = "1oo1")",
       {"site.toml:15:12: room.annexe.co2_vote: the room has no carbon dioxide sensor that could vote"}},
      {R"(regime = "occupied")",
       R"(regime = "occupied"
oxygen_vote = "3oo3")",
       {R"(site.toml:15:15: room.annexe.oxygen_vote: "3oo3" is not known; write "2oo3", "1oo1", "1oo2" or "2oo2")"}},
      {R"(regime = "occupied")",
       R"(regime = "occupied"
coverage_factor = 1
expanded_oxygen_max = "5 %")",
       {"site.toml:15:19: room.annexe.coverage_factor: 1 is outside 2 to 4",
        R"(site.toml:16:23: room.annexe.expanded_oxygen_max: "5 %" is outside 0.1 % to 2 %)"}},
      {R"(regime = "occupied")",
       R"(regime = "occupied"
coverage_factor = nan)",
       {"site.toml:15:19: room.annexe.coverage_factor: nan is outside 2 to 4"}},
      {R"(regime = "occupied")",
       R"(regime = "occupied"
temperature_from = "annexe/ait")",
       {R"(site.toml:15:20: room.annexe.temperature_from: "annexe/ait" is no "room/sensor" that measures temperature; there is "annexe/air")"}},
      {R"(regime = "occupied")",
       R"(regime = "occupied"
pressure_from = "annexe/cell-a")",
       {R"(site.toml:15:17: room.annexe.pressure_from: "annexe/cell-a" is no "room/sensor" that measures pressure; there is "annexe/air")"}},
      {R"(measures = "oxygen"
)",
       "",
       {R"(site.toml:16:21: room.annexe.sensor.cell-a.measures: missing; write for example measures = "oxygen")"}},
      {R"(measures = "oxygen")",
       R"(measures = "oxygn")",
       {R"(site.toml:17:12: room.annexe.sensor.cell-a.measures: "oxygn" is no measurand; there is "oxygen", "door", "lights", "occupancy", "humidity", "pressure", "air-flow", "temperature", "carbon-dioxide", "over-pressure", "relief-valve" or "sea-level-pressure")"}},
      {R"(measures = "oxygen")",
       "measures = []",
       {R"(site.toml:17:12: room.annexe.sensor.cell-a.measures: names nothing; write for example "oxygen")"}},
      {R"(measures = "oxygen")",
       R"(measures = ["oxygen", 5])",
       {"site.toml:17:23: room.annexe.sensor.cell-a.measures: 5 is not a text; put it in quotes"}},
      {R"(measures = ["temperature", "humidity", "pressure"])",
       R"(measures = ["temperature", "carbon-dioxide"])",
       {R"(site.toml:25:12: room.annexe.sensor.air.measures: profile "ambient-int16" does not deliver "carbon-dioxide"; it delivers "temperature", "humidity" or "pressure")"}},
      {R"(measures = ["temperature", "humidity", "pressure"])",
       R"(measures = ["temperature", "temperature"])",
       {R"(site.toml:25:12: room.annexe.sensor.air.measures: "temperature" is named twice)"}},
      {R"(bus = "plant")",
       R"(bus = "plnt")",
       {R"(site.toml:18:7: room.annexe.sensor.cell-a.bus: there is no bus "plnt"; there is "plant" or "line")"}},
      {"unit = 11",
       R"(unit = "11")",
       {R"(site.toml:19:8: room.annexe.sensor.cell-a.unit: "11" is not a whole number; write one from 0 to 255, without quotes)"}},
      {"unit = 11",
       "unit = 11.0",
       {"site.toml:19:8: room.annexe.sensor.cell-a.unit: 11.0 is not a whole number; write one from 0 to 255, without "
        "quotes"}},
      {"unit = 11",
       "unit = 250",
       {"site.toml:19:8: room.annexe.sensor.cell-a.unit: 250 is reserved; use 0 to 247, or 255"}},
      {R"(bus = "plant"
unit = 11)",
       R"(bus = "line"
unit = 0)",
       {"site.toml:19:8: room.annexe.sensor.cell-a.unit: 0 is outside 1 to 247"}},
      {R"(unit = 11
)",
       "",
       {"site.toml:16:21: room.annexe.sensor.cell-a.unit: missing; write for example unit = 1"}},
      {"unit = 11", "unit = 255", {}},
      {"[room.annexe.sensor.air]",
       "[room.annexe.sensor.alarms]",
       {R"(site.toml:24:21: room.annexe.sensor.alarms: "alarms" is a topic of the room itself; name the sensor otherwise)"}},
      {R"([room.annexe]
)",
       R"([room.status]
[room.annexe]
)",
       {R"(site.toml:13:7: room.status: "status" is a topic of the site itself; name the room otherwise)",
        "site.toml:13:7: room.status: warning: has no sensor: it will stand as not monitored"}},
      {R"(profile = "millivolts-float32")",
       R"(profile = "milivolts-float32")",
       {R"(site.toml:20:11: room.annexe.sensor.cell-a.profile: there is no profile "milivolts-float32"; there is "millivolts-float32", "ambient-float32", "lights-contact", "air-flow-contact", "ambient-int16", "co2-uint16", "door-contact", "relief-valve-contact", "occupancy-contact", "over-pressure-int16" or "oxygen-percent-uint16")"}},
      {R"(profile = "millivolts-float32")",
       R"(profile = "../profiles/co2-uint16")",
       {R"(site.toml:20:11: room.annexe.sensor.cell-a.profile: there is no profile "../profiles/co2-uint16"; there is "co2-uint16", "over-pressure-int16", "ambient-int16", "oxygen-percent-uint16", "air-flow-contact", "door-contact", "lights-contact", "occupancy-contact", "ambient-float32", "millivolts-float32" or "relief-valve-contact")"}},
      {R"(profile = "millivolts-float32")",
       R"(profile = "millivolts-float32"
every = "50 ms")",
       {R"(site.toml:21:9: room.annexe.sensor.cell-a.every: "50 ms" is outside 100 ms to 1 h)"}},
      {R"(profile = "millivolts-float32")",
       R"(profile = "millivolts-float32"
every = 1)",
       {R"(site.toml:21:9: room.annexe.sensor.cell-a.every: 1 is a bare number; write a duration with its unit in quotes, such as "5 s")"}},
      {R"(profile = "millivolts-float32")",
       R"(profile = "millivolts-float32"
every = "200 ms")",
       {"site.toml:21:9: room.annexe.sensor.cell-a.every: warning: the timeout is longer than the poll period: while "
        "the device is silent, polls are skipped"}},
      {R"(profile = "millivolts-float32")",
       R"(profile = "millivolts-float32"
reports = "dry"
ndir = {})",
       {"site.toml:21:11: room.annexe.sensor.cell-a.reports: belongs to a transmitter; a cell's basis follows from its "
        "model",
        R"(site.toml:22:1: room.annexe.sensor.cell-a.ndir: belongs to a sensor that measures "carbon-dioxide")"}},
      {R"(profile = "ambient-int16")",
       R"(profile = "ambient-int16"
cell = { model = "concentration" }
u = { temperature = "-0.5 K", pressure = "1 m", oxygen = "1 mV" })",
       {R"(site.toml:29:1: room.annexe.sensor.air.cell: belongs to a sensor that measures "oxygen")",
        R"(site.toml:30:21: room.annexe.sensor.air.u.temperature: "-0.5 K" is outside what an uncertainty can be (0 or more))",
        R"(site.toml:30:42: room.annexe.sensor.air.u.pressure: "1 m" is a length; write a pressure such as "99.8 kPa")",
        R"(site.toml:30:49: room.annexe.sensor.air.u.oxygen: unknown key; known here: "humidity", "pressure" or "temperature")"}},
      {R"(cell = { model = "concentration", zero = "0.4 mV" }
)",
       "",
       {R"(site.toml:16:21: room.annexe.sensor.cell-a.cell: missing; a signal in millivolts says nothing without its cell, for example cell = { model = "concentration", zero = "0.4 mV" })"}},
      {R"(cell = { model = "concentration", zero = "0.4 mV" })",
       R"(cell = "concentration")",
       {R"(site.toml:21:8: room.annexe.sensor.cell-a.cell: "concentration" is not a table)"}},
      {R"(cell = { model = "concentration", zero = "0.4 mV" })",
       R"(cell = { model = "galvanic", zero = "0.4 V", furnace = "700 °C" })",
       {R"(site.toml:21:18: room.annexe.sensor.cell-a.cell.model: "galvanic" is not known; write "nernst", "mole-fraction", "concentration" or "partial-pressure")",
        R"(site.toml:21:37: room.annexe.sensor.cell-a.cell.zero: "0.4 V" is outside -100 mV to 100 mV)",
        R"(site.toml:21:56: room.annexe.sensor.cell-a.cell.furnace: belongs to a cell of model "nernst")"}},
      {R"(profile = "millivolts-float32"
cell = { model = "concentration", zero = "0.4 mV" })",
       R"(profile = "oxygen-percent-uint16"
cell = { model = "concentration", zero = "0.4 mV" })",
       {R"(site.toml:16:21: room.annexe.sensor.cell-a.reports: warning: not given; the fraction is taken as "wet" (of the gas as it is). Write "dry" if the transmitter dries its sample or converts)",
        "site.toml:21:1: room.annexe.sensor.cell-a.cell: belongs to a sensor that gives a signal; this profile "
        "delivers a fraction",
        "site.toml:22:1: room.annexe.sensor.cell-a.calibration: belongs to a sensor that gives a signal; this profile "
        "delivers a fraction"}},
      {"[room.annexe.sensor.air]",
       R"([room.annexe.sensor.air2]
measures = "temperature"
bus = "plant"
unit = 1
profile = "ambient-int16"

[room.annexe.sensor.air])",
       {R"(site.toml:13:7: room.annexe.temperature_from: missing; the room has 2 probes for temperature, say which one counts as "room/sensor")"}},
  });
}

TEST(Problems, OfCalibrationsNameThePlaceAndWhatIsAccepted) {
  expect_said({
      {R"(calibration = { signal = "12.6 mV", temperature = "21 °C", humidity = "45 %", pressure = "98.8 kPa" })",
       R"(calibration = { signal = "12.6 mV" })",
       {R"(site.toml:22:1: room.annexe.sensor.cell-a.calibration.temperature: missing; write for example temperature = "21 °C")",
        R"(site.toml:22:1: room.annexe.sensor.cell-a.calibration.humidity: missing; write for example humidity = "45 %")",
        R"(site.toml:22:1: room.annexe.sensor.cell-a.calibration.pressure: missing; write for example pressure = "99.8 kPa" (read at the place), or elevation = "212 m", or sea_level_pressure = "1013 hPa" (from a weather report))"}},
      {R"(calibration = { signal = "12.6 mV", temperature = "21 °C", humidity = "45 %", pressure = "98.8 kPa" })",
       R"(calibration = { signal = "12.6 kPa", temperature = "21 °C", humidity = "45 %", pressure = "98.8 kPa" })",
       {R"(site.toml:22:26: room.annexe.sensor.cell-a.calibration.signal: "12.6 kPa" is a pressure; write a voltage such as "12.6 mV")"}},
      {R"(calibration = { signal = "12.6 mV", temperature = "21 °C", humidity = "45 %", pressure = "98.8 kPa" })",
       R"(calibration = { signal = "0.3 mV", temperature = "21 °C", humidity = "45 %", pressure = "98.8 kPa" })",
       {"site.toml:22:26: room.annexe.sensor.cell-a.calibration.signal: 0.3 mV is not above the zero of 0.4 mV"}},
      {R"(calibration = { signal = "12.6 mV", temperature = "21 °C", humidity = "45 %", pressure = "98.8 kPa" })",
       R"(calibration = { signal = "12.6 mV", temperature = "21 °C", humidity = "45 %", pressure = "98.8 hPa" })",
       {R"(site.toml:22:90: room.annexe.sensor.cell-a.calibration.pressure: "98.8 hPa" is outside 50 kPa to 110 kPa)"}},
      {R"(calibration = { signal = "12.6 mV", temperature = "21 °C", humidity = "45 %", pressure = "98.8 kPa" })",
       R"(calibration = { signal = "12.6 mV", temperature = "21 °C", humidity = "45 %", pressure = "101.2 kPa" })",
       {"site.toml:22:90: room.annexe.sensor.cell-a.calibration.pressure: warning: looks like a report reduced to sea "
        "level: at 212 m the air has about 98.8 kPa; if so, write it as sea_level_pressure"}},
      {R"(calibration = { signal = "12.6 mV", temperature = "21 °C", humidity = "45 %", pressure = "98.8 kPa" })",
       R"(calibration = { signal = "12.6 mV", temperature = "21 °C", humidity = "45 %", pressure = "98.8 kPa", elevation = "212 m" })",
       {"site.toml:22:114: room.annexe.sensor.cell-a.calibration.elevation: pressure is given as well; one of the two "
        "must go"}},
      {R"(calibration = { signal = "12.6 mV", temperature = "21 °C", humidity = "45 %", pressure = "98.8 kPa" })",
       R"(calibration = { signal = "12.6 mV", temperature = "210 °C", humidity = "145 %", sea_level_pressure = "700 hPa" })",
       {R"(site.toml:22:51: room.annexe.sensor.cell-a.calibration.temperature: "210 °C" is outside -40 °C to 85 °C)",
        R"(site.toml:22:72: room.annexe.sensor.cell-a.calibration.humidity: "145 %" is outside 0 % to 100 %)",
        R"(site.toml:22:102: room.annexe.sensor.cell-a.calibration.sea_level_pressure: "700 hPa" is outside 87 kPa to 108.5 kPa)"}},
      {R"(calibration = { signal = "12.6 mV", temperature = "21 °C", humidity = "45 %", pressure = "98.8 kPa" })",
       R"(calibration = { signal = "12.6 mV", temperature = "21 °C", humidity = "45 %", pressure = "98.8 kPa", at = "yesterday" })",
       {R"(site.toml:22:107: room.annexe.sensor.cell-a.calibration.at: "yesterday" is not understood; write a date and time with its offset from UTC, such as 2026-05-04T09:30:00+02:00)"}},
      {R"(calibration = { signal = "12.6 mV", temperature = "21 °C", humidity = "45 %", pressure = "98.8 kPa" })",
       R"(calibration = { signal = "12.6 mV", temperature = "21 °C", humidity = "45 %", pressure = "98.8 kPa", at = 2026-05-04T09:30:00 })",
       {"site.toml:22:107: room.annexe.sensor.cell-a.calibration.at: this names no instant; write a date and time with "
        "its offset from UTC, such as 2026-05-04T09:30:00+02:00"}},
      {R"(calibration = { signal = "12.6 mV", temperature = "21 °C", humidity = "45 %", pressure = "98.8 kPa" })",
       R"(calibration = { signal = "12.6 mV", temperature = "21 °C", humidity = "45 %", pressure = "98.8 kPa", u_signal = "-1 mV", u_humidity_temperature = "1 K" })",
       {R"(site.toml:22:113: room.annexe.sensor.cell-a.calibration.u_signal: "-1 mV" is outside 0 mV to 100 mV)",
        "site.toml:22:147: room.annexe.sensor.cell-a.calibration.u_humidity_temperature: there is no "
        "humidity_temperature that it could belong to"}},
      {R"(calibration = { signal = "12.6 mV", temperature = "21 °C", humidity = "45 %", pressure = "98.8 kPa" })",
       R"(calibration = { signal = "12.6 mV", temperature = "21 °C", humidity = "45 %", pressure = "98.8 kPa", low = { signal = "12.7 mV", oxygen = "1 %" } })",
       {"site.toml:22:26: room.annexe.sensor.cell-a.calibration.signal: 12.6 mV is not above the signal of the low "
        "point of 12.7 mV"}},
      {R"(calibration = { signal = "12.6 mV", temperature = "21 °C", humidity = "45 %", pressure = "98.8 kPa" })",
       R"(calibration = { signal = "12.6 mV", temperature = "21 °C", humidity = "45 %", pressure = "98.8 kPa", zero_signal = "0.3 mV", low = { signal = "0.9 mV" } })",
       {"site.toml:22:116: room.annexe.sensor.cell-a.calibration.zero_signal: the low point stands in its place; one "
        "of the two must go",
        R"(site.toml:22:126: room.annexe.sensor.cell-a.calibration.low.oxygen: missing; write for example oxygen = "1 %")"}},
      {R"(calibration = { signal = "12.6 mV", temperature = "21 °C", humidity = "45 %", pressure = "98.8 kPa" })",
       R"(calibration = { signal = "12.6 mV", temperature = "85 °C", humidity = "100 %", pressure = "50 kPa" })",
       {"site.toml:22:1: room.annexe.sensor.cell-a.calibration: gives no reading: calibration: 100 % relative humidity "
        "at 85 °C makes 58.23 kPa of water vapour, which is not below the total pressure of 50 kPa; check temperature, "
        "humidity and pressure"}},
      {R"(calibration = { signal = "12.6 mV", temperature = "21 °C", humidity = "45 %", pressure = "98.8 kPa" })",
       R"(calibration = { signal = "12.6 mV", temprature = "21 °C", humidity = "45 %", pressure = "98.8 kPa" })",
       {R"(site.toml:22:1: room.annexe.sensor.cell-a.calibration.temperature: missing; write for example temperature = "21 °C")",
        R"(site.toml:22:37: room.annexe.sensor.cell-a.calibration.temprature: unknown key; did you mean "temperature"?)"}},
      {R"(calibration = { signal = "12.6 mV", temperature = "21 °C", humidity = "45 %", pressure = "98.8 kPa" })",
       R"(calibration = { signal = "12.6 mV", temperature = "21 °C", humidity = "45 %", pressure = "98.8 kPa", oxygen = "0 %" })",
       {"site.toml:22:111: room.annexe.sensor.cell-a.calibration.oxygen: 0 % cannot be the span; that is the zero"}},
      {R"(cell = { model = "concentration", zero = "0.4 mV" })",
       R"(cell = { model = "concentration", zero = "0.4 mV", temperature_response = { coefficients = [-2.0] } })",
       {"site.toml:22:1: room.annexe.sensor.cell-a.calibration: gives no reading: calibration: the cell's temperature "
        "response is -1 at 21 °C; it must be above zero over the temperatures of use, so check its coefficients"}},
      {R"(calibration = { signal = "12.6 mV", temperature = "21 °C", humidity = "45 %", pressure = "98.8 kPa" }
)",
       "",
       {"site.toml:16:21: room.annexe.sensor.cell-a.calibration: warning: none in this file; the sensor counts only "
        "once a calibration is in the store"}},
  });
}

} // namespace oxherd::room_problems_test
