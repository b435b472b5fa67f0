#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include <tl/expected.hpp>

#include "control/aids/air_change.hpp"
#include "control/aids/leak_test.hpp"
#include "daemon/cli/answer.hpp"
#include "daemon/clock.hpp"

namespace oxherd::daemon::cli {

/// What tells how leaky the room is: an over-pressure that falls, or a gas that comes back to what it is outdoors.
enum class LeakMethod { pressure, oxygen, carbon_dioxide };
[[nodiscard]] std::string_view name_of(LeakMethod method); ///< as it is typed

/// What a leak test is asked to look at. Uncertainties that are empty are as recorded.
struct LeakTestCase {
  std::string room;
  LeakMethod method = LeakMethod::pressure;
  WallTime from, to;
  std::string sensor;              ///< gauge, or what measures the gas; empty: the only one that did
  std::string temperature_sensor;  ///< likewise
  std::optional<InRoom> barometer; ///< empty: the room's own, which shows the over-pressure too
  std::optional<double> u_sensor{}, u_temperature_K{}, u_barometer_Pa{}, u_zero_Pa{};
  std::optional<control::Estimate> volume_m3{}; ///< known whenever the method is pressure
  control::LeakTest leak{};
  control::AirChangeTest air_change{};
};

[[nodiscard]] std::vector<Option> leak_test_options();

/// Reads the options, and the settings for what they leave open: volume, barometer, probe, relief.
[[nodiscard]] tl::expected<LeakTestCase, AnswerError> read_leak_test(const Arguments& arguments, WallTime now);

} // namespace oxherd::daemon::cli
