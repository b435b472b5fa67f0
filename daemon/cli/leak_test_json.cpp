#include "alarms/texts.hpp"
#include "daemon/cli/leak_test_text.hpp"
#include "daemon/cli/text.hpp"
#include "daemon/json_text.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon::cli {
namespace {

std::string ends_of(const control::Span& span) { return json_array({json_number(span.low), json_number(span.high)}); }

JsonObject head_of_test(const LeakTestCase& test, const LeakSeries& series, std::size_t samples) {
  JsonObject out;
  const auto volume = test.volume_m3;
  out.text("room", test.room)
      .text("method", name_of(test.method))
      .text("from", rfc3339(test.from))
      .text("to", rfc3339(test.to))
      .text("sensor", series.sensor)
      .integer("samples", static_cast<std::int64_t>(samples))
      .integer("left_out", static_cast<std::int64_t>(series.left_out))
      .number("volume_m3", volume ? std::optional{volume->value} : std::nullopt)
      .number("u_volume_m3", volume ? std::optional{volume->u} : std::nullopt);
  return out;
}

std::string_view name_in_json(control::LeakVerdict verdict) {
  switch (verdict) {
  case control::LeakVerdict::passed: return "passed";
  case control::LeakVerdict::failed: return "failed";
  case control::LeakVerdict::undecided: return "undecided";
  }
  return "";
}

std::string criteria_json(const control::LeakResult& result) {
  std::vector<std::string> out;
  for (const auto& criterion : control::common_leak_criteria) {
    const auto judged = control::judge(result, criterion);
    out.push_back(JsonObject{}
                      .text("criterion", criterion.name)
                      .text("source", "common practice")
                      .number("least_s", criterion.least_s)
                      .number("fall_s", judged.fall_s)
                      .json("fall_95_s", ends_of(judged.fall_95_s))
                      .text("verdict", name_in_json(judged.verdict))
                      .str());
  }
  return json_array(out);
}

} // namespace

std::string leak_json(const LeakTestCase& test, const LeakSeries& series, const control::LeakResult& result) {
  const auto bend = result.exponent;
  return head_of_test(test, series, series.pressures.size())
      .text("temperature_sensor", series.temperature_sensor)
      .text("barometer", series.barometer)
      .flag("barometer_inside", series.barometer_inside)
      .number("half_life_s", result.half_life_s.value)
      .json("half_life_95_s", ends_of(result.half_life_95_s))
      .number("stated_pressure_pa", test.leak.stated_pressure_Pa)
      .number("leak_m3_per_h", result.leak_m3_s.value * hour_s)
      .number("u_leak_m3_per_h", result.leak_m3_s.u * hour_s)
      .number("air_changes_per_h", result.air_changes_per_h)
      .number("equivalent_hole_cm2", result.orifice_m2 * 1e4)
      .number("first_pa", result.first_Pa)
      .flag("explained", result.explained)
      .number("chi_squared", result.chi_squared)
      .integer("degrees_of_freedom", result.degrees_of_freedom)
      .number("exponent", bend ? std::optional{bend->value} : std::nullopt)
      .number("u_exponent", bend ? std::optional{bend->u} : std::nullopt)
      .flag("departs", result.departs)
      .number("correction_pa", result.correction_Pa)
      .number("temperature_range_k", result.temperature_range_K)
      .number("barometer_range_pa", result.barometer_range_Pa)
      .json("criteria", criteria_json(result))
      .text("caution", alarms::caution_short())
      .str();
}

std::string air_change_json(const LeakTestCase& test, const LeakSeries& series, const control::AirChange& result) {
  return head_of_test(test, series, series.fractions.size())
      .number("air_changes_per_h", result.per_h.value)
      .number("u_air_changes_per_h", result.per_h.u)
      .json("air_changes_95_per_h", ends_of(result.per_h_95))
      .number("without_source_per_h", result.without_source_per_h)
      .number("outside_fraction", test.air_change.outside.value)
      .number("end_fraction", result.end_fraction)
      .flag("explained", result.explained)
      .number("chi_squared", result.chi_squared)
      .integer("degrees_of_freedom", result.degrees_of_freedom)
      .text("caution", alarms::caution_short())
      .str();
}

} // namespace oxherd::daemon::cli
