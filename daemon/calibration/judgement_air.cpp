#include <cmath>

#include <fmt/core.h>

#include "daemon/calibration/judgement_rules.hpp"
#include "daemon/calibration/wording.hpp"

namespace oxherd::daemon {
namespace {

constexpr double ppm = 1e-6;

void judge_ran_lately(std::string_view what, std::optional<double> seconds, const JudgementRules& rules,
                      Judgement& judgement) {
  if (!seconds || *seconds >= rules.quiet_seconds) return;
  refuse_without_reason(judgement, fmt::format("{} ran {:.0f} min ago (at least {:.0f} min): ventilate and wait", what,
                                               *seconds / 60.0, rules.quiet_seconds / 60.0));
}

void judge_breath(const CalibrationRecord& proposed, const Circumstances& around, const JudgementRules& rules,
                  Judgement& judgement) {
  if (around.humidity_range && !(*around.humidity_range <= rules.humidity_jump))
    refuse_without_reason(
        judgement, fmt::format("the humidity moved by {:.0f} %RH while the point was taken (at most {:.0f} %RH): "
                               "step back, breath holds less oxygen than air",
                               *around.humidity_range * 100.0, rules.humidity_jump * 100.0));
  if (around.carbon_dioxide_range && !(*around.carbon_dioxide_range <= rules.carbon_dioxide_jump))
    refuse_without_reason(judgement,
                          fmt::format("the CO2 moved by {:.0f} ppm while the point was taken (at most {:.0f} "
                                      "ppm): step back, breath holds less oxygen than air",
                                      *around.carbon_dioxide_range / ppm, rules.carbon_dioxide_jump / ppm));
  if (around.condensing)
    refuse_without_reason(judgement,
                          "water condenses on the cell: warm it until it is dry, then wait for it to settle");
  for (const auto& point : proposed.points)
    if (point.gas.kind == GasKind::fresh_air && point.values.gas.humidity.value.si() > rules.humidity_warned)
      judgement.warnings.push_back(
          fmt::format("the air is at {:.0f} %RH (better below {:.0f} %RH): the membrane may be "
                      "wet, check again in drier air",
                      point.values.gas.humidity.value.si() * 100.0, rules.humidity_warned * 100.0));
}

} // namespace

void judge_air(const CalibrationRecord& proposed, const Circumstances& around, const JudgementRules& rules,
               Judgement& judgement) {
  if (around.sealed_room)
    refuse_without_reason(judgement, "the air of a sealed room is not fresh: take the cell outside, or use span gas");
  if (!around.active_alarms.empty()) {
    std::string names;
    for (const auto& name : around.active_alarms) names += (names.empty() ? "" : ", ") + name;
    refuse_without_reason(judgement,
                          fmt::format("the room has an active alarm ({}): its air may not be fresh, and a cell "
                                      "calibrated in poor air reads too high for ever after",
                                      names));
  }
  if (around.carbon_dioxide && !(*around.carbon_dioxide <= rules.carbon_dioxide_max))
    refuse_without_reason(judgement, fmt::format("the CO2 is {:.0f} ppm (at most {:.0f} ppm): the air is not fresh, "
                                                 "ventilate the room",
                                                 *around.carbon_dioxide / ppm, rules.carbon_dioxide_max / ppm));
  for (const auto& neighbour : around.neighbours) {
    const double off = neighbour.dry.si() - rules.neighbour_air;
    if (!(std::abs(off) <= rules.neighbour_tolerance + 1e-12)) // 1e-12: rounding of two decimals
      refuse_without_reason(judgement,
                            fmt::format("{} reads {:.2f} % ({:.1f} ± {:.1f} % is fresh air): find out which of "
                                        "the cells is wrong, or use span gas",
                                        neighbour.sensor, neighbour.dry.si() * 100.0, rules.neighbour_air * 100.0,
                                        rules.neighbour_tolerance * 100.0));
  }
  judge_ran_lately("a purge", around.seconds_since_purge, rules, judgement);
  judge_ran_lately("CO2 dosing", around.seconds_since_dosing, rules, judgement);
  if (!around.carbon_dioxide && around.neighbours.empty())
    judgement.warnings.push_back("neither CO2 nor another cell shows that the air is fresh: make sure of it yourself");
  judge_breath(proposed, around, rules, judgement);
}

void judge_point(const TakenPoint& point, WallTime performed, const JudgementRules& rules, Judgement& judgement) {
  const auto& gas = point.gas;
  if (point.stability.samples == 0 && !point.stability.stable)
    refuse_without_reason(judgement,
                          fmt::format("nothing shows that the signal in {} was stable, because it was entered by hand: "
                                      "say where it was written down",
                                      name_of_gas(gas)));
  else if (!point.stability.stable)
    refuse(judgement, fmt::format("the signal in {} was not stable: wait until it is, and take the point again",
                                  name_of_gas(gas)));
  if (gas.kind == GasKind::nitrogen && !(gas.oxygen.value.si() <= rules.nitrogen_oxygen_max))
    refuse(judgement, fmt::format("nitrogen with {} % oxygen (at most {} %) is a span gas: enter it as one",
                                  percent_text(gas.oxygen.value.si()), percent_text(rules.nitrogen_oxygen_max)));
  if (gas.expires && *gas.expires < performed)
    refuse_without_reason(judgement,
                          fmt::format("the certificate of {} expired on {}: use gas whose certificate is valid",
                                      name_of_gas(gas), day_text(*gas.expires)));
  if (gas.kind == GasKind::fresh_air) return;
  if (gas.certificate.empty())
    judgement.warnings.push_back(fmt::format("{} has no certificate: the result is not traceable", name_of_gas(gas)));
  else if (!gas.expires)
    judgement.warnings.push_back(
        fmt::format("the certificate of {} has no date of expiry: enter it", name_of_gas(gas)));
}

void judge_check(const CalibrationRecord& proposed, const JudgementRules& rules, Judgement& judgement) {
  const auto outcome = outcome_of(proposed, rules.tolerance);
  if (outcome.points.size() < proposed.points.size())
    refuse(judgement, "a check compares readings with gases, and not every gas has a reading: take them again");
  for (const auto& point : outcome.points) {
    if (!point.passed)
      judgement.warnings.push_back(describe(point) + ". A full calibration is due; until then readings are suspect");
    else if (point.is_close_call())
      judgement.warnings.push_back(describe(point));
  }
}

} // namespace oxherd::daemon
