#include "daemon/cli/leak_test_text.hpp"

#include <cmath>
#include <numbers>

#include <fmt/core.h>

#include "daemon/cli/table.hpp"
#include "daemon/cli/text.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon::cli {
namespace {

using control::Estimate;
using control::Span;

std::string in_unit(double value, std::string_view unit) { return fmt::format("{} {}", short_number(value, 3), unit); }
std::string ends_text(const Span& span, std::string_view unit) {
  return fmt::format("95 %: {} to {}", short_number(span.low, 3), in_unit(span.high, unit));
}
std::string times_between(const Span& span_s) {
  return fmt::format("95 %: {} to {}", duration_text(span_s.low), duration_text(span_s.high));
}
Span interval_95(const Estimate& e) {
  return {e.value - control::normal_975 * e.u, e.value + control::normal_975 * e.u};
}
Span scaled_span(const Span& span, double factor) { return {span.low * factor, span.high * factor}; }

std::string leak_test_head(const LeakTestCase& test) {
  return fmt::format("Leak test of {} by {}, {} to {}\n\n", printable(test.room), name_of(test.method),
                     rfc3339_local(test.from), rfc3339_local(test.to));
}

std::string readings_of(const LeakSeries& series, std::size_t taken) {
  return series.left_out == 0
             ? counted(taken, "sample")
             : fmt::format("{}; {} left out: bad", counted(taken, "sample"), counted(series.left_out, "reading"));
}

/// Whether what was stated of the sensors is enough to explain how the readings scatter.
std::string scatter_text(bool explained, double chi_squared, int degrees_of_freedom) {
  return fmt::format("{} (chi-squared {:.1f} at {} degrees of freedom)",
                     explained ? "explained by the stated uncertainties"
                               : "NOT EXPLAINED by the stated uncertainties: something else moved; the intervals are "
                                 "widened by it",
                     chi_squared, degrees_of_freedom);
}

std::string_view word_of_verdict(control::LeakVerdict verdict) {
  switch (verdict) {
  case control::LeakVerdict::passed: return "passed";
  case control::LeakVerdict::failed: return "FAILED";
  case control::LeakVerdict::undecided: return "undecided";
  }
  return "";
}

std::string criteria_text(const control::LeakResult& result) {
  Table table{2};
  table.add({"criterion (common practice, no source)", "at least", "found", "", "verdict"});
  for (const auto& criterion : control::common_leak_criteria) {
    const auto judged = control::judge(result, criterion);
    table.add({std::string{criterion.name}, duration_text(criterion.least_s), duration_text(judged.fall_s),
               times_between(judged.fall_95_s), std::string{word_of_verdict(judged.verdict)}});
  }
  return table.text();
}

std::string bend_text(const control::LeakResult& result) {
  if (!result.exponent) return "could not be told";
  return fmt::format("{:.2f} ± {:.2f} (k=2){}", result.exponent->value, result.exponent->expanded(),
                     result.departs ? ": not 1, so that the half-life changes with the pressure; widened by it" : "");
}

} // namespace

std::string_view leak_test_conduct() {
  return "For a test: nobody inside, door sealed and signed, fans and cooling off until the temperature stands still, "
         "scrubber and gas supply shut. By pressure: relief valve isolated and water traps filled, raise the room to "
         "its test pressure, below the relief setting, shut the blower's valve, begin --from then; free the relief "
         "valve again afterwards. By oxygen or carbon-dioxide: fans on, so that the air is mixed. A test tells how "
         "tight the room is, nothing of the air in it: it is no substitute for testing the air before anybody enters.";
}

std::string leak_text(const LeakTestCase& test, const LeakSeries& series, const control::LeakResult& result) {
  const auto stated = in_unit(test.leak.stated_pressure_Pa, "Pa");
  const auto leak_m3_h = scaled_span(interval_95(result.leak_m3_s), hour_s);
  const double per_rate = result.air_changes_per_h / result.rate_per_s.value; // does not hang on the volume
  const double hole_per_leak_cm2 = result.orifice_m2 * 1e4 / (result.leak_m3_s.value * hour_s);
  Table table{2};
  table.add({"half-life", duration_text(result.half_life_s.value), times_between(result.half_life_95_s)});
  table.add({"leak at " + stated, in_unit(result.leak_m3_s.value * hour_s, "m3/h"), ends_text(leak_m3_h, "m3/h")});
  table.add({"air changes at " + stated, in_unit(result.air_changes_per_h, "/h"),
             ends_text(scaled_span(result.rate_95_per_s, per_rate), "/h")});
  table.add({"equivalent hole", in_unit(result.orifice_m2 * 1e4, "cm2"),
             ends_text(scaled_span(leak_m3_h, hole_per_leak_cm2), "cm2")});
  Table seen{2};
  seen.add({"scatter", scatter_text(result.explained, result.chi_squared, result.degrees_of_freedom)});
  seen.add({"exponent of the leak", bend_text(result)});
  seen.add({"began at", fmt::format("{:.0f} Pa; free volume {}, u {}", result.first_Pa,
                                    in_unit(test.leak.volume_m3.value, "m3"), in_unit(test.leak.volume_m3.u, "m3"))});
  seen.add({"corrected by", fmt::format("{:.1f} Pa at most: temperature moved by {:.2f} K, barometer by {:.0f} Pa",
                                        result.correction_Pa, result.temperature_range_K, result.barometer_range_Pa)});
  seen.add({"from", fmt::format("{}: {}; temperature {}, barometer {}{}", series.sensor,
                                readings_of(series, series.pressures.size()), series.temperature_sensor,
                                series.barometer, series.barometer_inside ? " less the over-pressure" : "")});
  return leak_test_head(test) + table.text() + '\n' + criteria_text(result) + '\n' + seen.text();
}

std::string air_change_text(const LeakTestCase& test, const LeakSeries& series, const control::AirChange& result) {
  Table table{2};
  table.add({"air changes", in_unit(result.per_h.value, "/h"), ends_text(result.per_h_95, "/h")});
  if (test.volume_m3) {
    const double volume = test.volume_m3->value, u_share = test.volume_m3->u / volume;
    const Estimate flow{result.per_h.value * volume,
                        result.per_h.value * volume * std::hypot(u_share, result.per_h.u / result.per_h.value)};
    table.add({"outdoor air", in_unit(flow.value, "m3/h"), ends_text(interval_95(flow), "m3/h")});
  }
  const double half_s = std::numbers::ln2 * hour_s;
  table.add({"half-life of the difference", duration_text(half_s / result.per_h.value),
             times_between({half_s / result.per_h_95.high, half_s / result.per_h_95.low})});
  Table seen{2};
  seen.add({"scatter", scatter_text(result.explained, result.chi_squared, result.degrees_of_freedom)});
  seen.add({"comes to rest at", fmt::format("{}; outdoors {}", percent_text(result.end_fraction, 3),
                                            percent_text(test.air_change.outside.value, 3))});
  if (test.air_change.source_per_s.value != 0.0 && result.without_source_per_h)
    seen.add(
        {"without the source", fmt::format("{} would have been said", in_unit(*result.without_source_per_h, "/h"))});
  seen.add({"from", fmt::format("{}: {}", series.sensor, readings_of(series, series.fractions.size()))});
  return leak_test_head(test) + table.text() +
         "\n  The criteria of pressure say nothing of air changes: none is judged.\n\n" + seen.text();
}

} // namespace oxherd::daemon::cli
