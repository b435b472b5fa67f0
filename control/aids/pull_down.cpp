#include "control/aids/pull_down.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>

#include <fmt/format.h>

namespace oxherd::control {

Dilution UncertainDilution::values() const {
  return {.volume_m3 = volume_m3.value,
          .mixing = mixing.value,
          .supply_m3_s = supply_m3_s.value,
          .supply_fraction = supply_fraction.value,
          .leak_m3_s = leak_m3_s.value,
          .outdoor_fraction = outdoor_fraction.value,
          .source_m3_s = source_m3_s.value};
}

namespace {

/// A quantity that follows from the room and where it begins.
using Result = std::function<std::optional<double>(const Dilution&, double)>;

constexpr std::array uncertain{&UncertainDilution::volume_m3,   &UncertainDilution::mixing,
                               &UncertainDilution::supply_m3_s, &UncertainDilution::supply_fraction,
                               &UncertainDilution::leak_m3_s,   &UncertainDilution::outdoor_fraction,
                               &UncertainDilution::source_m3_s};

/// Standard uncertainty of a result to the first order. Each input is moved by a hundredth of its u to both sides;
/// empty where the result is lost on the way.
std::optional<double> propagated(const UncertainDilution& room, const Estimate& from, const Result& result) {
  double variance = 0.0;
  const auto add = [&](const std::optional<double>& above, const std::optional<double>& below) {
    if (!above || !below) return false;
    const double part = (*above - *below) / 0.02;
    variance += part * part;
    return true;
  };
  for (const auto member : uncertain) {
    const double h = 0.01 * (room.*member).u;
    if (h == 0.0) continue;
    auto above = room, below = room;
    (above.*member).value += h;
    (below.*member).value -= h;
    if (!add(result(above.values(), from.value), result(below.values(), from.value))) return std::nullopt;
  }
  const double h = 0.01 * from.u;
  if (h > 0.0 && !add(result(room.values(), from.value + h), result(room.values(), from.value - h)))
    return std::nullopt;
  return std::sqrt(variance);
}

std::string fault_in(const UncertainDilution& room) {
  for (const auto member : uncertain)
    if (!((room.*member).u >= 0.0) || !std::isfinite((room.*member).u))
      return "an uncertainty of the room is not a number of 0 or more";
  return fault_of(room.values());
}
bool is_reading(const Estimate& e) { return std::isfinite(e.value) && std::isfinite(e.u) && e.u >= 0.0; }

/// What is expected at a time after the dead time, and how sure that is beside a reading with its own u.
struct Expected {
  double fraction = 0;
  double u_difference = 0;
};
Expected expected_at(const UncertainDilution& room, const Fall& fall, double elapsed_s) {
  const double acting_s = std::max(0.0, elapsed_s - fall.dead_time_s);
  const auto course = [&](const Dilution& r, double from) { return std::optional{fraction_after(r, from, acting_s)}; };
  return {.fraction = fraction_after(room.values(), fall.start.value, acting_s),
          .u_difference = std::hypot(fall.now.u, propagated(room, fall.start, course).value_or(0.0))};
}
bool no_fall_would_show(const Fall& fall, const Expected& expected) {
  return fall.start.value - expected.fraction > normal_990 * expected.u_difference;
}

/// Looks along the forecast up to five time constants, where hardly anything is left to fall.
std::optional<double> tellable_after_s(const UncertainDilution& room, const Fall& fall) {
  const Dilution values = room.values();
  const double constant_s = values.mixing * values.volume_m3 / (values.supply_m3_s + values.leak_m3_s);
  if (!std::isfinite(constant_s)) return std::nullopt;
  constexpr int steps = 500;
  for (int i = 1; i <= steps; ++i) {
    const double t_s = fall.dead_time_s + 5.0 * constant_s * i / steps;
    if (no_fall_would_show(fall, expected_at(room, fall, t_s))) return t_s;
  }
  return std::nullopt;
}

std::string words_for(const FallJudgement& j, const Fall& fall) {
  std::string numbers =
      fmt::format("after {:.0f} min oxygen is {:.2f} %, {:.2f} % was to be expected (± {:.2f} %)",
                  fall.elapsed_s / 60.0, 100.0 * fall.now.value, 100.0 * j.expected_now, 200.0 * j.u_difference);
  switch (j.verdict) {
  case FallVerdict::as_forecast: return numbers;
  case FallVerdict::too_early:
    return numbers + (j.tellable_after_s
                          ? fmt::format("; a missing fall can be told from {:.0f} min on", *j.tellable_after_s / 60.0)
                          : "; with these uncertainties a missing fall could never be told");
  case FallVerdict::slower:
    return numbers + "; look for a leak, an empty supply, an open door, or the sensor of another room";
  case FallVerdict::no_fall_forecast: return numbers + "; this supply does not bring the room below where it began";
  case FallVerdict::no_forecast: break;
  }
  return "no forecast can be made";
}

} // namespace

tl::expected<PullDownForecast, std::string> forecast(const UncertainDilution& room, const Estimate& from,
                                                     double target) {
  if (auto fault = fault_in(room); !fault.empty()) return tl::unexpected(std::move(fault));
  if (!is_reading(from) || !std::isfinite(target)) return tl::unexpected<std::string>("the reading is not a number");
  const Dilution values = room.values();
  const auto time_s = time_to_reach_s(values, {from.value, target});
  const auto end = end_fraction(values);
  if (!time_s) {
    const std::string rest = end ? fmt::format("comes to rest at {:.2f} %", 100.0 * *end) : "does not change that way";
    return tl::unexpected(fmt::format("{:.2f} % is never reached: the room {}", 100.0 * target, rest));
  }
  const auto time_of = [&](const Dilution& r, double c0) { return time_to_reach_s(r, {c0, target}); };
  const auto supply_of = [&](const Dilution& r, double c0) { return supply_used_m3(r, {c0, target}); };
  const auto u_time_s = propagated(room, from, time_of);
  const auto u_supply_m3 = propagated(room, from, supply_of);
  PullDownForecast result{.time_s = {*time_s, u_time_s.value_or(0.0)},
                          .supply_m3 = {*time_s * values.supply_m3_s, u_supply_m3.value_or(0.0)},
                          .end_fraction = end.value_or(target),
                          .doubtful = !u_time_s || !u_supply_m3};
  const auto end_of = [](const Dilution& r, double) { return end_fraction(r); };
  result.u_end_fraction = propagated(room, from, end_of).value_or(0.0);
  if (end && std::abs(*end - target) < 3.0 * result.u_end_fraction) result.doubtful = true;
  return result;
}

FallJudgement falls_as_forecast(const UncertainDilution& room, const Fall& fall) {
  FallJudgement j;
  if (const auto fault = fault_in(room); !fault.empty()) {
    j.words = "no forecast can be made: " + fault;
    return j;
  }
  if (!is_reading(fall.start) || !is_reading(fall.now) || !(fall.elapsed_s >= 0.0) || !(fall.dead_time_s >= 0.0)) {
    j.words = "no forecast can be made: a reading or a time is missing";
    return j;
  }
  const auto expected = expected_at(room, fall, fall.elapsed_s);
  j.expected_now = expected.fraction;
  j.expected_fall = fall.start.value - expected.fraction;
  j.measured_fall = fall.start.value - fall.now.value;
  j.u_difference = expected.u_difference;
  const bool ever_falls = fraction_after(room.values(), fall.start.value, 1.0) < fall.start.value;
  if (ever_falls) j.tellable_after_s = tellable_after_s(room, fall);
  if (!ever_falls)
    j.verdict = FallVerdict::no_fall_forecast;
  else if (!no_fall_would_show(fall, expected))
    j.verdict = FallVerdict::too_early;
  else
    j.verdict = fall.now.value - expected.fraction > normal_990 * expected.u_difference ? FallVerdict::slower
                                                                                        : FallVerdict::as_forecast;
  j.words = words_for(j, fall);
  return j;
}

} // namespace oxherd::control
