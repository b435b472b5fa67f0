#pragma once

#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

#include <gtest/gtest.h>

#include "config/load.hpp"

namespace oxherd::config_test {

/// The profiles that are shipped.
inline std::vector<std::filesystem::path> shipped() {
  return {std::filesystem::path{OXHERD_SOURCE_DIR} / "config" / "profiles"};
}

/// A small file without a fault or doubt. Each line that a test changes stands at a known place, so that expected
/// positions can be counted here.
inline constexpr std::string_view sound = R"([site]
name = "larkfield"
elevation = "212 m"

[bus.plant]
kind = "modbus-tcp"
address = "127.0.0.1:1502"

[bus.line]
kind = "modbus-rtu"
device = "/dev/ttyS0"

[room.annexe]
regime = "occupied"

[room.annexe.sensor.cell-a]
measures = "oxygen"
bus = "plant"
unit = 11
profile = "millivolts-float32"
cell = { model = "concentration", zero = "0.4 mV" }
calibration = { signal = "12.6 mV", temperature = "21 °C", humidity = "45 %", pressure = "98.8 kPa" }

[room.annexe.sensor.air]
measures = ["temperature", "humidity", "pressure"]
bus = "plant"
unit = 21
profile = "ambient-int16"

[room.annexe.alarm.low-oxygen]
quantity = "oxygen"
below = "19.5 %"

[output.beacon]
kind = "alarm-relay"
room = "annexe"
bus = "plant"
unit = 31
coil = 0
)";

/// `sound` with the one occurrence of `from` replaced.
inline std::string with(std::string_view from, std::string_view to, std::string_view base = sound) {
  std::string text{base};
  const auto at = text.find(from);
  if (at == text.npos) return "the test replaces what is not there";
  return text.replace(at, from.size(), to);
}

/// Everything that is said about a text, one line each, as a person reads it.
inline std::vector<std::string> said_about(std::string_view text) {
  const auto loaded = config::parse(text, "site.toml", shipped());
  std::vector<std::string> lines;
  for (const auto& problem : loaded ? loaded->warnings : loaded.error()) lines.push_back(to_string(problem));
  return lines;
}

/// One change of the sound sample and everything that is said then, with its position.
struct Slip {
  std::string_view from;
  std::string_view to;
  std::vector<std::string> said;
};

inline void expect_said(const std::vector<Slip>& slips) {
  for (const auto& slip : slips) {
    SCOPED_TRACE(std::string{slip.from} + " -> " + std::string{slip.to});
    EXPECT_EQ(said_about(with(slip.from, slip.to)), slip.said);
  }
}

/// The settings of a text that must be without errors.
inline config::Settings settings_of(std::string_view text) {
  auto loaded = config::parse(text, "site.toml", shipped());
  if (loaded) return std::move(loaded->settings);
  for (const auto& problem : loaded.error()) ADD_FAILURE() << to_string(problem);
  return {};
}

} // namespace oxherd::config_test
