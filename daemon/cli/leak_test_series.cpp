#include "daemon/cli/leak_test_series.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/core.h>
#include <nlohmann/json.hpp>

#include "daemon/time_text.hpp"

namespace oxherd::daemon::cli {
namespace {

using control::Estimate;
using nlohmann::json;

/// A quantity in the answer, and how it comes to SI.
struct RecordedQuantity {
  std::string_view words, key, u_key;
  double factor = 1.0, offset = 0.0;
};
constexpr RecordedQuantity recorded_over_pressure{"over-pressure", "over_pressure_pa", "u_over_pressure_pa"};
constexpr RecordedQuantity recorded_temperature{"temperature", "temperature_c", "u_temperature_c", 1.0, 273.15};
constexpr RecordedQuantity recorded_pressure{"pressure", "pressure_kpa", "u_pressure_kpa", 1e3};
constexpr RecordedQuantity recorded_oxygen{"oxygen", "dry_fraction", "u_dry_fraction"};
constexpr RecordedQuantity recorded_carbon_dioxide{"carbon dioxide", "co2_fraction", "u_co2_fraction"};

struct RecordedValue {
  WallTime at;
  Estimate value{};
};
using RecordedValues = std::vector<RecordedValue>;

/// Those that recorded the quantity, each once.
std::vector<std::string> sensors_with(const json& readings, const RecordedQuantity& quantity) {
  std::vector<std::string> found;
  for (const auto& reading : readings) {
    if (!number_of(reading, quantity.key)) continue;
    auto name = text_of(reading, "sensor");
    if (std::ranges::find(found, name) == found.end()) found.push_back(std::move(name));
  }
  return found;
}

/// The sensor that is meant, or why that cannot be told.
tl::expected<std::string, std::string> chosen_sensor(const json& readings, const RecordedQuantity& quantity,
                                                     const std::string& wanted, std::string_view option) {
  const auto found = sensors_with(readings, quantity);
  if (!wanted.empty() && std::ranges::find(found, wanted) != found.end()) return wanted;
  if (found.empty())
    return tl::unexpected(
        fmt::format("no {} was recorded in that time: `oxherd status` lists the sensors", quantity.words));
  if (wanted.empty() && found.size() == 1) return found.front();
  std::string names;
  for (const auto& name : found) names += (names.empty() ? "" : ", ") + name;
  if (wanted.empty())
    return tl::unexpected(
        fmt::format("several sensors recorded {}: name one with {}: {}", quantity.words, option, names));
  return tl::unexpected(
      fmt::format("{} recorded no {} in that time; it was recorded by {}", wanted, quantity.words, names));
}

/// The usable readings of one sensor; what was bad is counted.
RecordedValues series_of(const json& readings, const std::string& sensor, const RecordedQuantity& quantity,
                         std::optional<double> u, std::size_t* left_out = nullptr) {
  RecordedValues out;
  for (const auto& reading : readings) {
    if (text_of(reading, "sensor") != sensor) continue;
    const auto value = number_of(reading, quantity.key);
    const auto at = parse_rfc3339(text_of(reading, "at"));
    if (!value || !at || text_of(reading, "quality") == "bad") {
      if (left_out != nullptr) ++*left_out;
      continue;
    }
    const double recorded_u = number_of(reading, quantity.u_key).value_or(0.0) * quantity.factor;
    out.push_back({*at, {*value * quantity.factor + quantity.offset, u.value_or(recorded_u)}});
  }
  return out;
}

bool ascends(const RecordedValues& series) {
  return std::ranges::adjacent_find(series, [](const auto& a, const auto& b) { return a.at >= b.at; }) == series.end();
}

/// On the straight line between its neighbours; empty where they are further apart than that, or one is missing.
std::optional<Estimate> value_at(const RecordedValues& series, WallTime at, std::chrono::milliseconds apart_most) {
  const auto after = std::ranges::lower_bound(series, at, {}, &RecordedValue::at);
  if (after != series.end() && after->at == at) return after->value;
  if (after == series.begin() || after == series.end()) return std::nullopt;
  const auto before = std::prev(after);
  if (after->at - before->at > apart_most) return std::nullopt;
  const double share =
      std::chrono::duration<double>(at - before->at) / std::chrono::duration<double>(after->at - before->at);
  const double u = std::max(before->value.u, after->value.u);
  return Estimate{std::lerp(before->value.value, after->value.value, share), u};
}

/// The two clocks do not convert; here only what lies between two recorded times is counted. A clock that was set
/// meanwhile is a gap, or refused.
alarms::Monotonic after_begin(WallTime begin, WallTime at) { return at - begin; }

struct PressureSeries {
  RecordedValues gauge, room, barometer;
};

std::vector<control::LeakSample> joined_pressures(const PressureSeries& all, bool barometer_inside,
                                                  alarms::Monotonic gap_most) {
  const auto* scarcest = std::min({&all.gauge, &all.room, &all.barometer},
                                  [](const auto* a, const auto* b) { return a->size() < b->size(); });
  std::vector<control::LeakSample> out;
  for (const auto& moment : *scarcest) {
    const auto over = value_at(all.gauge, moment.at, gap_most);
    const auto room = value_at(all.room, moment.at, gap_most);
    auto outside = value_at(all.barometer, moment.at, gap_most);
    if (!over || !room || !outside) continue;
    if (barometer_inside) outside->value -= over->value;
    out.push_back({after_begin(scarcest->front().at, moment.at), *over, *room, *outside});
  }
  return out;
}

constexpr const char* clock_was_set = "the recorded times do not ascend: the clock was set meanwhile; test again";

tl::expected<LeakSeries, std::string> pressure_series(const LeakTestCase& test, const LeakRecords& records) {
  LeakSeries out;
  const auto& readings = list_of(records.room, "readings");
  const auto gauge = chosen_sensor(readings, recorded_over_pressure, test.sensor, "--sensor");
  if (!gauge) return tl::unexpected(gauge.error());
  const auto probe = chosen_sensor(readings, recorded_temperature, test.temperature_sensor, "--temperature");
  if (!probe) return tl::unexpected(probe.error());
  const auto& outdoors = list_of(records.barometer, "readings");
  const auto barometer =
      chosen_sensor(outdoors, recorded_pressure, test.barometer ? test.barometer->name : "", "--barometer");
  if (!barometer)
    return tl::unexpected(barometer.error() + "; without a barometer the weather cannot be told from a leak");
  out.sensor = *gauge;
  out.temperature_sensor = *probe;
  out.barometer = fmt::format("{}/{}", test.barometer ? test.barometer->room : test.room, *barometer);
  out.barometer_inside = !test.barometer || test.barometer->room == test.room;
  const auto as_recorded = series_of(readings, *gauge, recorded_over_pressure, std::nullopt);
  if (!as_recorded.empty()) out.u_common = as_recorded.front().value.u;
  const PressureSeries all{series_of(readings, *gauge, recorded_over_pressure, test.u_sensor, &out.left_out),
                           series_of(readings, *probe, recorded_temperature, test.u_temperature_K),
                           series_of(outdoors, *barometer, recorded_pressure, test.u_barometer_Pa)};
  if (!ascends(all.gauge) || !ascends(all.room) || !ascends(all.barometer)) return tl::unexpected(clock_was_set);
  out.pressures = joined_pressures(all, out.barometer_inside, test.leak.gap_most);
  return out;
}

tl::expected<LeakSeries, std::string> tracer_series(const LeakTestCase& test, const LeakRecords& records) {
  LeakSeries out;
  const auto& quantity = test.method == LeakMethod::oxygen ? recorded_oxygen : recorded_carbon_dioxide;
  const auto& readings = list_of(records.room, "readings");
  const auto sensor = chosen_sensor(readings, quantity, test.sensor, "--sensor");
  if (!sensor) return tl::unexpected(sensor.error());
  out.sensor = *sensor;
  const auto as_recorded = series_of(readings, *sensor, quantity, std::nullopt);
  if (!as_recorded.empty()) out.u_common = as_recorded.front().value.u;
  const auto series = series_of(readings, *sensor, quantity, test.u_sensor, &out.left_out);
  if (!ascends(series)) return tl::unexpected(clock_was_set);
  for (const auto& one : series) out.fractions.push_back({after_begin(series.front().at, one.at), one.value});
  return out;
}

} // namespace

tl::expected<LeakSeries, std::string> leak_series(const LeakTestCase& test, const LeakRecords& records) {
  return test.method == LeakMethod::pressure ? pressure_series(test, records) : tracer_series(test, records);
}

} // namespace oxherd::daemon::cli
