#include <algorithm>
#include <array>
#include <cmath>

#include <fmt/core.h>

#include "alarms/texts.hpp"
#include "daemon/cli/pull_down_case.hpp"
#include "daemon/cli/table.hpp"
#include "daemon/cli/text.hpp"
#include "daemon/json_text.hpp"

namespace oxherd::daemon::cli {
namespace {

using control::Estimate;

constexpr int course_steps = 10;

/// An input as it is printed: in a person's unit, and in the JSON.
struct DilutionInput {
  std::string_view words, key, unit;
  Estimate control::UncertainDilution::*what;
  double factor; ///< from SI to that unit
};
constexpr std::array dilution_inputs{
    DilutionInput{"free volume", "volume_m3", "m3", &control::UncertainDilution::volume_m3, 1.0},
    DilutionInput{"mixing factor", "mixing", "", &control::UncertainDilution::mixing, 1.0},
    DilutionInput{"supply", "supply_m3_per_h", "m3/h", &control::UncertainDilution::supply_m3_s, hour_s},
    DilutionInput{"oxygen in the supply", "supply_percent", "%", &control::UncertainDilution::supply_fraction, 100.0},
    DilutionInput{"outdoor air that leaks in", "leak_m3_per_h", "m3/h", &control::UncertainDilution::leak_m3_s, hour_s},
    DilutionInput{"oxygen that goods use", "respiration_m3_per_h", "m3/h", &control::UncertainDilution::source_m3_s,
                  -hour_s}};

std::string with_unit(double value, std::string_view unit) {
  return unit.empty() ? short_number(value, 4) : fmt::format("{} {}", short_number(value, 4), unit);
}

/// Both ends of the 95 % interval; a time or a volume is never below 0.
std::array<double, 2> interval_of(const Estimate& e) {
  const double half = control::normal_975 * e.u;
  return {std::max(0.0, e.value - half), e.value + half};
}

struct CoursePoint {
  double at_s = 0, fraction = 0, supply_m3 = 0;
};
std::array<CoursePoint, course_steps + 1> course_of(const PullDownCase& asked, double time_s) {
  const auto room = asked.dilution.values();
  std::array<CoursePoint, course_steps + 1> course;
  for (int i = 0; i <= course_steps; ++i) {
    const double at_s = time_s * i / course_steps;
    course.at(static_cast<std::size_t>(i)) = {at_s, control::fraction_after(room, asked.from.value, at_s),
                                              at_s * room.supply_m3_s};
  }
  return course;
}

std::string course_text(const PullDownCase& asked, double time_s) {
  constexpr double columns = 40;
  Table table{2};
  table.add({"after", "oxygen", "gas used", ""});
  const auto course = course_of(asked, time_s);
  const double most = std::max(course.front().fraction, course.back().fraction);
  for (const auto& point : course) {
    const double share = most > 0.0 ? std::clamp(point.fraction / most, 0.0, 1.0) : 0.0;
    table.add({duration_text(point.at_s), percent_text(point.fraction, 2), with_unit(point.supply_m3, "m3"),
               std::string(static_cast<std::size_t>(std::lround(columns * share)), '#')});
  }
  return table.text();
}

constexpr std::string_view doubt_text =
    "the oxygen to reach lies so near to where the room comes to rest that it may never "
    "get there; the intervals say too little. Look for the leak, or take a purer gas";
constexpr std::string_view pull_down_conduct =
    "Before gas flows: seal the room and see that nobody is in it. Nobody may enter until it was aired and the air was "
    "tested with a certified monitor. This is a forecast for planning, it watches nothing.";

} // namespace

std::string pull_down_text(const PullDownCase& asked, const control::PullDownForecast& forecast) {
  const auto time = interval_of(forecast.time_s), gas = interval_of(forecast.supply_m3);
  std::string out =
      fmt::format("Pull-down{} from {} to {} oxygen\n\n", asked.room.empty() ? "" : " of " + printable(asked.room),
                  percent_text(asked.from.value, 2), percent_text(asked.to, 2));
  Table results{2};
  results.add({"time", duration_text(forecast.time_s.value),
               fmt::format("95 %: {} to {}", duration_text(time[0]), duration_text(time[1]))});
  results.add({"gas", with_unit(forecast.supply_m3.value, "m3"),
               fmt::format("95 %: {} to {}", with_unit(gas[0], "m3"), with_unit(gas[1], "m3"))});
  results.add({"comes to rest at", percent_text(forecast.end_fraction, 2),
               fmt::format("± {} (k=2)", percent_text(2.0 * forecast.u_end_fraction, 2))});
  out += results.text();
  if (forecast.doubtful) out += "\n" + wrapped(fmt::format("DOUBTFUL: {}.", doubt_text), 100, 0) + '\n';
  out += "\n" + course_text(asked, forecast.time_s.value) + "\nFrom\n";
  Table given{2};
  for (const auto& input : dilution_inputs) {
    const auto& e = asked.dilution.*input.what;
    given.add({std::string{input.words}, with_unit(e.value * input.factor, input.unit),
               "u " + with_unit(e.u * std::abs(input.factor), input.unit)});
  }
  given.add({"oxygen at the start", percent_text(asked.from.value, 2), "u " + percent_text(asked.from.u, 2)});
  return out + given.text() + '\n' + wrapped(pull_down_conduct, 100, 0) + '\n';
}

std::string pull_down_json(const PullDownCase& asked, const control::PullDownForecast& forecast) {
  const auto pair = [](const std::array<double, 2>& ends) {
    return json_array({json_number(ends[0]), json_number(ends[1])});
  };
  std::vector<std::string> course;
  for (const auto& point : course_of(asked, forecast.time_s.value))
    course.push_back(JsonObject{}
                         .number("after_s", point.at_s)
                         .number("fraction", point.fraction)
                         .number("supply_m3", point.supply_m3)
                         .str());
  JsonObject out;
  out.json("room", asked.room.empty() ? "null" : json_string(asked.room))
      .number("from_fraction", asked.from.value)
      .number("u_from_fraction", asked.from.u)
      .number("to_fraction", asked.to)
      .number("time_s", forecast.time_s.value)
      .number("u_time_s", forecast.time_s.u)
      .json("time_95_s", pair(interval_of(forecast.time_s)))
      .number("supply_m3", forecast.supply_m3.value)
      .number("u_supply_m3", forecast.supply_m3.u)
      .json("supply_95_m3", pair(interval_of(forecast.supply_m3)))
      .number("end_fraction", forecast.end_fraction)
      .number("u_end_fraction", forecast.u_end_fraction)
      .flag("doubtful", forecast.doubtful)
      .json("course", json_array(course));
  for (const auto& input : dilution_inputs) {
    const auto& e = asked.dilution.*input.what;
    out.number(input.key, e.value * input.factor).number(fmt::format("u_{}", input.key), e.u * std::abs(input.factor));
  }
  return out.text("caution", alarms::caution_short()).str();
}

} // namespace oxherd::daemon::cli
