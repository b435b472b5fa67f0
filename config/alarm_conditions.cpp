#include "config/alarm_conditions.hpp"

#include <fmt/core.h>

#include "config/rules.hpp"

namespace oxherd::config {
namespace {

using alarms::Direction;
using compensation::Dimension;
using std::chrono::seconds;

constexpr std::array<Choice<Condition>, 7> conditions{{{"limit", Condition::limit},
                                                       {"rate-of-fall", Condition::rate_of_fall},
                                                       {"time-to-limit", Condition::time_to_limit},
                                                       {"time-average", Condition::time_average},
                                                       {"disagreement", Condition::disagreement},
                                                       {"deviation", Condition::deviation},
                                                       {"door-open", Condition::door_open}}};

constexpr QuantityRule ratio_limit{Dimension::ratio, 0.0, 1.0, "0 % to 100 %"};
constexpr QuantityRule pressure_limit{Dimension::pressure, 0.0, 110e3, "0 kPa to 110 kPa"};
constexpr QuantityRule window_span{Dimension::duration, 10.0, 3600.0, "10 s to 1 h"};
constexpr QuantityRule average_span{Dimension::duration, 60.0, 86400.0, "1 min to 24 h"};
constexpr QuantityRule forecast_span{Dimension::duration, 60.0, 86400.0, "1 min to 24 h"};
constexpr QuantityRule forecast_deadband{Dimension::duration, 0.0, 86400.0, "0 s to 24 h"};

const QuantityRule& number_rule(AlarmQuantity quantity) {
  return quantity == AlarmQuantity::oxygen_partial_pressure ? pressure_limit : ratio_limit;
}

/// The one that suits the quantity.
struct Examples {
  std::string_view oxygen, partial_pressure, carbon_dioxide;
  [[nodiscard]] std::string_view of(AlarmQuantity quantity) const {
    if (quantity == AlarmQuantity::oxygen_partial_pressure) return partial_pressure;
    return quantity == AlarmQuantity::carbon_dioxide ? carbon_dioxide : oxygen;
  }
};

/// A limit as a person gives it: exactly one of `below` and `above`.
struct Bound {
  Direction direction = Direction::low;
  double value = 0.0;
};

Bound read_bound(TableReader& in, AlarmQuantity quantity) {
  constexpr Examples examples{R"(below = "19.5 %")", R"(below = "18 kPa")", R"(above = "5000 ppm")"};
  const auto below = in.quantity("below", number_rule(quantity));
  const auto above = in.quantity("above", number_rule(quantity));
  if (in.has("below") && in.has("above")) in.error("above", "below is given as well; one alarm has one limit");
  if (!in.has("below") && !in.has("above"))
    in.error("", fmt::format("needs a limit: below or above, for example {}", examples.of(quantity)));
  if (below == 0.0) in.error("below", "nothing is below zero; this alarm could never trip");
  return {in.has("below") ? Direction::low : Direction::high, below.value_or(above.value_or(0.0))};
}

/// A size that must be given, unless there is a default for it, and is more than nothing.
double read_size(TableReader& in, std::string_view key, AlarmQuantity quantity, const Examples& examples,
                 double otherwise = 0.0) {
  if (otherwise == 0.0) in.require(key, examples.of(quantity));
  const auto size = in.quantity(key, number_rule(quantity));
  if (size == 0.0) in.error(key, "must be more than zero: this alarm would always stand");
  return size.value_or(otherwise);
}

/// Deadband and delays of a limit whose number has this rule; `per_file` is the file's unit in that of the number.
void read_band(TableReader& in, const QuantityRule& deadband, double per_file, const AlarmDefaults& defaults,
               alarms::Limit& limit) {
  const auto given = in.quantity("deadband", deadband);
  limit.deadband = given ? *given * per_file : defaults.deadband;
  limit.on_delay = in.duration("on_delay", alarm_delay).value_or(defaults.on_delay);
  limit.off_delay = in.duration("off_delay", alarm_delay).value_or(defaults.off_delay);
}

void read_band(TableReader& in, const AlarmKind& kind, alarms::Limit& limit) {
  read_band(in, number_rule(kind.quantity), 1.0, defaults_of(kind, limit.limit), limit);
}

alarms::Rule read_limit(TableReader& in, AlarmKind kind) {
  const Bound bound = read_bound(in, kind.quantity);
  kind.direction = bound.direction;
  alarms::Limit limit{bound.direction, bound.value};
  read_band(in, kind, limit);
  return limit;
}

alarms::Rule read_rate_of_fall(TableReader& in, const AlarmKind& kind) {
  alarms::RateOfFall rule;
  rule.limit.limit = read_size(in, "fall_per_minute", kind.quantity, {R"("0.5 %")", R"("0.5 kPa")", R"("200 ppm")"});
  rule.window = in.duration("window", window_span).value_or(rule.window);
  read_band(in, kind, rule.limit);
  return rule;
}

alarms::Rule read_time_to_limit(TableReader& in, AlarmKind kind) {
  const Bound bound = read_bound(in, kind.quantity);
  alarms::TimeToLimit rule;
  rule.approached_from = kind.direction = bound.direction;
  rule.reached = bound.value;
  // Proposal of the project: long enough to leave and to find the leak, short enough to be believed of a straight line.
  rule.limit.limit = in.quantity("within", forecast_span).value_or(600.0) / 60.0;
  rule.window = in.duration("window", window_span).value_or(rule.window);
  read_band(in, forecast_deadband, 1.0 / 60.0, defaults_of(kind, rule.limit.limit), rule.limit);
  return rule;
}

alarms::Rule read_time_average(TableReader& in, AlarmKind kind) {
  const Bound bound = read_bound(in, kind.quantity);
  kind.direction = bound.direction;
  alarms::TimeAverage rule{{bound.direction, bound.value}};
  rule.over = in.duration("over", average_span).value_or(rule.over);
  read_band(in, kind, rule.limit);
  return rule;
}

alarms::Rule read_disagreement(TableReader& in, const AlarmKind& kind) {
  alarms::Disagreement rule;
  rule.limit.limit = read_size(in, "spread", kind.quantity, {R"("0.5 %")", R"("0.5 kPa")", R"("300 ppm")"},
                               spread_by_default(kind.quantity));
  read_band(in, kind, rule.limit);
  return rule;
}

alarms::Rule read_deviation(TableReader& in, const AlarmKind& kind) {
  constexpr Examples set_points{R"("2 %")", R"("2 kPa")", R"("1000 ppm")"};
  alarms::Deviation rule;
  in.require("set_point", set_points.of(kind.quantity));
  rule.set_point = in.quantity("set_point", number_rule(kind.quantity)).value_or(0.0);
  rule.limit.limit = read_size(in, "deviation", kind.quantity, {R"("0.5 %")", R"("0.5 kPa")", R"("200 ppm")"});
  read_band(in, kind, rule.limit);
  return rule;
}

alarms::Rule read_door_open(TableReader& in, const AlarmKind& kind) {
  alarms::DoorOpen rule;
  rule.on_delay = in.duration("on_delay", alarm_delay).value_or(defaults_of(kind).on_delay);
  rule.off_delay = in.duration("off_delay", alarm_delay).value_or(defaults_of(kind).off_delay);
  return rule;
}

} // namespace

Condition read_condition(TableReader& in, AlarmQuantity quantity) {
  const auto given = in.choice("condition", conditions);
  const bool of_door = quantity == AlarmQuantity::door;
  if (given && of_door != (*given == Condition::door_open))
    in.error("condition", of_door ? "a door has no other condition than \"door-open\""
                                  : "\"door-open\" belongs to quantity = \"door\"");
  return of_door ? Condition::door_open : given.value_or(Condition::limit);
}

alarms::Rule read_rule(TableReader& in, AlarmKind kind) {
  switch (kind.condition) { // no default: a new condition must not compile until it is read here
  case Condition::limit: return read_limit(in, kind);
  case Condition::rate_of_fall: return read_rate_of_fall(in, kind);
  case Condition::time_to_limit: return read_time_to_limit(in, kind);
  case Condition::time_average: return read_time_average(in, kind);
  case Condition::disagreement: return read_disagreement(in, kind);
  case Condition::deviation: return read_deviation(in, kind);
  case Condition::door_open: return read_door_open(in, kind);
  }
  return alarms::Limit{};
}

alarms::Direction direction_of(const alarms::Rule& rule) {
  if (const auto* forecast = std::get_if<alarms::TimeToLimit>(&rule)) return forecast->approached_from;
  if (std::holds_alternative<alarms::RateOfFall>(rule)) return Direction::low;
  const auto* limit = alarms::limit_in(rule);
  return limit == nullptr ? Direction::high : limit->direction;
}

} // namespace oxherd::config
