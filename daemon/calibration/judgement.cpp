#include "daemon/calibration/judgement.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/core.h>

#include "daemon/calibration/in_force.hpp"
#include "daemon/calibration/judgement_rules.hpp"

namespace oxherd::daemon {
namespace {

void judge_entry(const CalibrationRecord& proposed, Judgement& judgement) {
  if (proposed.serial.empty())
    refuse(judgement, "the cell has no serial number: enter it, a calibration belongs to one cell only");
  if (proposed.author.empty()) refuse(judgement, "nobody is named: say who did this");
  if (proposed.performed > proposed.recorded)
    refuse(judgement, "it is said to be performed after it was entered: correct the time");
  if (proposed.supersedes && proposed.reason.empty())
    refuse(judgement, fmt::format("record {} is superseded without a reason: give one", *proposed.supersedes));
}

void judge_withdrawal(const CalibrationRecord& proposed, const std::vector<CalibrationRecord>& records,
                      Judgement& judgement) {
  if (!proposed.supersedes) {
    refuse(judgement, "a withdrawal names the record that it declares void: give its number");
    return;
  }
  const auto named = std::find_if(records.begin(), records.end(), [&](const auto& record) {
    return record.number == *proposed.supersedes && record.serial == proposed.serial;
  });
  if (named == records.end()) {
    refuse(judgement, fmt::format("there is no record {} of this cell to withdraw", *proposed.supersedes));
    return;
  }
  const auto standing = effective_of(records, proposed.serial);
  const bool stands =
      std::any_of(standing.begin(), standing.end(), [&](const auto& record) { return record.number == named->number; });
  if (!stands && named->act != CalibrationAct::withdrawal)
    refuse(judgement, fmt::format("record {} is void already: a later one superseded it", named->number));
  auto afterwards = records;
  CalibrationRecord last = proposed; // judged as if it were stored already
  for (const auto& record : records) last.number = std::max(last.number, record.number + 1);
  afterwards.push_back(last);
  if (!in_force_at(afterwards, proposed.serial, proposed.recorded))
    judgement.warnings.push_back("no calibration remains on record: the one of the configuration counts again, where "
                                 "it gives one; else the cell is not monitored until it is calibrated");
}

/// Whether this act claims a number, so that its points must be fit for one.
bool measures(CalibrationAct act) { return act == CalibrationAct::adjustment || act == CalibrationAct::check; }

} // namespace

void refuse(Judgement& judgement, std::string text) { judgement.refusals.push_back({std::move(text), false}); }
void refuse_without_reason(Judgement& judgement, std::string text) {
  judgement.refusals.push_back({std::move(text), true});
}

bool Judgement::permits(bool reason_given) const {
  return std::all_of(refusals.begin(), refusals.end(),
                     [&](const auto& refusal) { return reason_given && refusal.can_be_overridden; });
}

Judgement judge_calibration(const CalibrationRecord& proposed,
                            const std::vector<CalibrationRecord>& life_of_this_serial,
                            const Circumstances& circumstances, const JudgementRules& rules) {
  Judgement judgement;
  judge_entry(proposed, judgement);
  if (proposed.act == CalibrationAct::withdrawal) judge_withdrawal(proposed, life_of_this_serial, judgement);
  if (!measures(proposed.act)) return judgement;
  if (proposed.points.empty()) refuse(judgement, "no point was taken: take one in a gas of known oxygen");
  for (const auto& point : proposed.points) judge_point(point, proposed.performed, rules, judgement);
  const bool in_air = std::any_of(proposed.points.begin(), proposed.points.end(),
                                  [](const auto& point) { return point.gas.kind == GasKind::fresh_air; });
  if (in_air) judge_air(proposed, circumstances, rules, judgement);
  if (circumstances.pressure_range_Pa && !(*circumstances.pressure_range_Pa <= rules.pressure_range_Pa))
    refuse(judgement, fmt::format("the pressure moved by {:.2f} kPa while the point was taken (at most {:.2f} kPa): "
                                  "close doors, wait for fans, take it again",
                                  *circumstances.pressure_range_Pa / 1e3, rules.pressure_range_Pa / 1e3));
  if (circumstances.conditions_typed)
    judgement.warnings.push_back("conditions were typed, not measured: their uncertainty is only as good as the "
                                 "instrument that was read");
  if (proposed.act == CalibrationAct::check)
    judge_check(proposed, rules, judgement);
  else
    judge_adjustment(proposed, life_of_this_serial, circumstances, rules, judgement);
  return judgement;
}

} // namespace oxherd::daemon
