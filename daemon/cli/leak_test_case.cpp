#include "daemon/cli/leak_test_case.hpp"

#include <array>
#include <cmath>

#include <fmt/core.h>

#include "compensation/constants.hpp"
#include "config/nearest.hpp"
#include "daemon/cli/cell_records.hpp"
#include "daemon/cli/room_settings.hpp"
#include "daemon/cli/text.hpp"
#include "daemon/cli/time_span.hpp"
#include "daemon/cli/typed_values.hpp"
#include "daemon/control/purge_watch.hpp"

namespace oxherd::daemon::cli {
namespace {

using compensation::Dimension;

constexpr std::array leak_methods{LeakMethod::pressure, LeakMethod::oxygen, LeakMethod::carbon_dioxide};

/// Outdoor air where nobody says otherwise. Carbon dioxide moves by the season and with who is near: proposal of the
/// project.
constexpr control::Estimate outdoor_oxygen{compensation::fresh_air_oxygen, 6e-5}, outdoor_carbon_dioxide{425e-6, 20e-6};

tl::expected<LeakMethod, std::string> leak_method_of(const Arguments& arguments) {
  const auto typed = arguments.value_or("--method", "pressure");
  std::vector<std::string> names;
  for (const auto method : leak_methods) {
    if (typed == name_of(method)) return method;
    names.emplace_back(name_of(method));
  }
  const auto meant = config::nearest(typed, names);
  return tl::unexpected(fmt::format("--method: there is no \"{}\"; {}", printable(typed),
                                    meant ? fmt::format("did you mean \"{}\"?", *meant)
                                          : std::string{"it is pressure, oxygen or carbon-dioxide"}));
}

/// What belongs to one method alone would silently do nothing with another.
std::string misplaced(const Arguments& arguments, LeakMethod method) {
  constexpr std::array of_pressure{"--temperature",   "--barometer",   "--at",    "--u-over-pressure",
                                   "--u-temperature", "--u-barometer", "--u-zero"};
  constexpr std::array of_gases{"--outside", "--u-outside", "--source", "--u-source", "--u-fraction"};
  const bool by_pressure = method == LeakMethod::pressure;
  for (const auto* option : of_pressure)
    if (!by_pressure && arguments.given(option)) return fmt::format("{} belongs to --method pressure", option);
  for (const auto* option : of_gases)
    if (by_pressure && arguments.given(option))
      return fmt::format("{} belongs to --method oxygen or carbon-dioxide", option);
  return {};
}

void read_typed(TypedValues& typed, const Arguments& arguments, LeakTestCase& test) {
  const auto u = [&](std::string_view name, Dimension dimension) {
    const double value = typed.uncertainty(name, dimension, 0.0);
    return arguments.given(fmt::format("--u-{}", name)) ? std::optional{value} : std::nullopt;
  };
  if (const auto volume = typed.value("volume", Dimension::volume)) test.volume_m3 = {*volume, 0.0};
  if (test.method == LeakMethod::pressure) {
    test.u_sensor = u("over-pressure", Dimension::pressure);
    test.u_temperature_K = u("temperature", Dimension::temperature);
    test.u_barometer_Pa = u("barometer", Dimension::pressure);
    test.u_zero_Pa = u("zero", Dimension::pressure);
    test.leak.stated_pressure_Pa = typed.value("at", Dimension::pressure).value_or(test.leak.stated_pressure_Pa);
    return;
  }
  test.u_sensor = u("fraction", Dimension::ratio);
  auto& outside = test.air_change.outside;
  outside = test.method == LeakMethod::oxygen ? outdoor_oxygen : outdoor_carbon_dioxide;
  outside.value = typed.value("outside", Dimension::ratio).value_or(outside.value);
  outside.u = typed.uncertainty("outside", Dimension::ratio, outside.u);
  auto& source = test.air_change.source_per_s;
  source.value = typed.value("source", Dimension::ratio).value_or(0.0) / hour_s;
  source.u = typed.uncertainty("source", Dimension::ratio, 0.3 * std::abs(source.value) * hour_s) / hour_s;
}

/// What the settings know of the room and the options have not said.
tl::expected<void, AnswerError> fill_from_settings(const Arguments& arguments, LeakTestCase& test) {
  const bool by_pressure = test.method == LeakMethod::pressure;
  if (test.volume_m3 && (!by_pressure || test.barometer)) return {};
  const auto settings = settings_of(arguments);
  if (!settings) {
    if (!by_pressure) return {}; // without a volume air changes can still be told
    return tl::unexpected(AnswerError{
        failed, fmt::format("the settings cannot be read: {}. Without them --volume and --barometer are typed",
                            settings.error())});
  }
  const auto found = room_of(*settings, test.room);
  if (!found) return tl::unexpected(AnswerError{usage, found.error()});
  const config::Room& room = **found;
  if (!test.volume_m3 && room.volume_m3) test.volume_m3 = {*room.volume_m3, 0.0};
  const auto& barometer = settings->site.barometer ? settings->site.barometer : room.pressure_from;
  if (!test.barometer && barometer) test.barometer = in_room(*barometer);
  const auto probe = in_room(room.temperature_from.value_or(""));
  if (test.temperature_sensor.empty() && probe && probe->room == test.room) test.temperature_sensor = probe->name;
  test.leak.relief_Pa = room.over_pressure_most_Pa;
  return {};
}

/// As uncertain as a purge takes it to be, unless typed.
void judge_volume(TypedValues& typed, LeakTestCase& test) {
  if (!test.volume_m3) return;
  config::Room room;
  room.volume_m3 = test.volume_m3->value;
  test.volume_m3->u = typed.uncertainty("volume", Dimension::volume, dilution_of(room, {}).volume_m3.u);
  test.leak.volume_m3 = *test.volume_m3;
  if (!(test.volume_m3->value > 0.0)) typed.problem("--volume: the room's free volume must be above 0 m3");
}

} // namespace

std::string_view name_of(LeakMethod method) {
  switch (method) {
  case LeakMethod::pressure: return "pressure";
  case LeakMethod::oxygen: return "oxygen";
  case LeakMethod::carbon_dioxide: return "carbon-dioxide";
  }
  return "";
}

tl::expected<LeakTestCase, AnswerError> read_leak_test(const Arguments& arguments, WallTime now) {
  const auto wrong_line = [](std::string what) { return tl::unexpected(AnswerError{usage, std::move(what)}); };
  if (arguments.positional().size() != 1) return wrong_line("name one room, such as pear-store-2");
  LeakTestCase test;
  test.room = arguments.positional().front();
  const auto method = leak_method_of(arguments);
  if (!method) return wrong_line(method.error());
  test.method = *method;
  if (auto wrong = misplaced(arguments, test.method); !wrong.empty()) return wrong_line(std::move(wrong));
  if (!arguments.given("--from") && !arguments.given("--last"))
    return wrong_line("--from is missing: when the room was shut and left alone; or --last 30min");
  const auto span = read_time_span(arguments, now, std::nullopt);
  if (!span) return wrong_line(span.error());
  test.from = span->from;
  test.to = span->to;
  test.sensor = arguments.value_or("--sensor", "");
  test.temperature_sensor = arguments.value_or("--temperature", "");
  if (const auto typed = arguments.value("--barometer")) {
    test.barometer = in_room(*typed);
    if (!test.barometer)
      return wrong_line(fmt::format("--barometer: \"{}\" is not a sensor; write ROOM/SENSOR", printable(*typed)));
  }
  TypedValues typed{arguments};
  read_typed(typed, arguments, test);
  if (!typed.problem().empty()) return wrong_line(typed.problem());
  if (const auto done = fill_from_settings(arguments, test); !done) return tl::unexpected(done.error());
  if (!test.volume_m3 && test.method == LeakMethod::pressure)
    return wrong_line("--volume is missing: the room's free volume, such as --volume \"130 m3\"");
  judge_volume(typed, test);
  if (!typed.problem().empty()) return wrong_line(typed.problem());
  return test;
}

} // namespace oxherd::daemon::cli
