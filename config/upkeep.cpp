#include <fmt/core.h>

#include "config/regime_rules.hpp"
#include "config/rules.hpp"
#include "config/sections.hpp"
#include "config/time_stamp.hpp"

namespace oxherd::config {
namespace {

using compensation::Dimension;
using std::chrono::days;

constexpr QuantityRule interval_span{Dimension::duration, 86400.0, 1096.0 * 86400.0, "1 d to 1096 d (three years)"};
constexpr QuantityRule age_span{Dimension::duration, 30.0 * 86400.0, 7305.0 * 86400.0, "30 d to 7305 d (20 years)"};
constexpr QuantityRule stable_span{Dimension::duration, 30.0, 300.0, "30 s to 5 min"};

/// Where no person relies on the cell, it is looked after less often: proposals of the project.
constexpr days check_of_sealed{90}, calibration_of_sealed{180};

void read_first_used(TableReader& in, CellUpkeep& upkeep) {
  const Node* node = in.node("first_used");
  if (node == nullptr) return;
  if (const auto* moment = std::get_if<Moment>(&node->value)) {
    upkeep.first_used = moment->utc;
    if (moment->day) upkeep.first_used = *moment->day;
  }
  if (const auto* text = std::get_if<std::string>(&node->value)) {
    upkeep.first_used = instant_of(*text);
    if (const auto day = day_of(*text)) upkeep.first_used = *day;
  }
  const bool no_offset = std::holds_alternative<Moment>(node->value);
  if (!upkeep.first_used)
    in.error("first_used", fmt::format("{}; write the day on which the cell was put to use, such as 2026-05-04",
                                       no_offset ? "a time of day without its offset from UTC names no instant"
                                                 : shown(*node) + " is no date"));
}

std::optional<SignalInAir> read_signal_in_air(TableReader& in, const SignalRules& rules) {
  const Node* node = in.node("signal_in_air");
  if (node == nullptr) return std::nullopt;
  const auto* items = std::get_if<Array>(&node->value);
  if (items == nullptr || items->size() != 2) {
    in.error("signal_in_air", fmt::format("{} is not a span; write the least and the most that a new cell gives in "
                                          "air, such as {}",
                                          items == nullptr ? shown(*node) : "this array", rules.air_example));
    return std::nullopt;
  }
  const auto ends = in.quantities("signal_in_air", rules.signal);
  if (ends.size() != 2) return std::nullopt; // what is wrong is said already
  if (ends[0] < ends[1]) return SignalInAir{Signal::from_si(ends[0]), Signal::from_si(ends[1])};
  in.error("signal_in_air", "the first is not below the second; write the least signal first");
  return std::nullopt;
}

} // namespace

void read_days(TableReader& in, std::string_view key, const QuantityRule& span, std::optional<days>& out) {
  const Node* node = in.node(key);
  if (node == nullptr) return;
  const auto* text = std::get_if<std::string>(&node->value);
  if (text != nullptr && *text == "never") {
    out.reset();
    return;
  }
  const auto length = in.duration(key, span);
  if (!length) return;
  out = std::chrono::floor<days>(*length);
  if (*out != *length)
    in.error(key, fmt::format("{} is not a number of whole days; write for example \"30 d\"", shown(*node)));
}

void read_upkeep(TableReader& in, Regime regime, const SignalRules& rules, CellSettings& cell) {
  auto& upkeep = cell.upkeep;
  if (is_sealable(regime)) {
    upkeep.check_every = check_of_sealed;
    upkeep.calibrate_every = calibration_of_sealed;
  }
  // Zirconia is not used up as a galvanic cell's lead is.
  if (cell.cell.model == compensation::CellModel::nernst) upkeep.permitted_age.reset();
  read_days(in, "check_every", interval_span, upkeep.check_every);
  read_days(in, "calibrate_every", interval_span, upkeep.calibrate_every);
  read_days(in, "permitted_age", age_span, upkeep.permitted_age);
  if (const auto level = in.duration("stable_for", stable_span))
    cell.stable_for = std::chrono::ceil<std::chrono::seconds>(*level);
  read_first_used(in, upkeep);
  cell.signal_in_air = read_signal_in_air(in, rules);
}

} // namespace oxherd::config
