#include "daemon/calibration/life.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/core.h>

#include "daemon/calibration/wording.hpp"

namespace oxherd::daemon {
namespace {

using alarms::Status;
using compensation::DataPair;

constexpr Months forecast_limit{120.0}; ///< a line drawn farther says nothing, and dates end somewhere

WallTime after(WallTime from, Months months) {
  return from + std::chrono::duration_cast<std::chrono::milliseconds>(months);
}

void collect_sensitivities(const std::vector<CalibrationRecord>& standing, CellLife& life) {
  const CalibrationRecord* first = nullptr;
  for (const auto& record : standing) {
    if (record.act != CalibrationAct::adjustment || !record.characteristic) continue;
    const auto& cell = *record.characteristic;
    if (!(std::abs(cell.sensitivity) > 0.0) || !std::isfinite(cell.sensitivity)) continue;
    if (first == nullptr) first = &record;
    const auto& reference = *first->characteristic;
    if (cell.sensitivity_unit != reference.sensitivity_unit) continue; // of another cell model: not comparable
    life.sensitivities.push_back({.number = record.number,
                                  .performed = record.performed,
                                  .share = cell.sensitivity / reference.sensitivity,
                                  .u_share = cell.u_sensitivity / std::abs(reference.sensitivity)});
  }
}

Forecast forecast(const compensation::LineFit& fit, WallTime origin, double share, const LifePlan& plan, WallTime now) {
  Forecast found;
  const auto crossing = compensation::crossing(fit, {.y = share, .level = plan.level});
  const Months limit = Months{now - origin} + forecast_limit;
  if (!crossing)
    found.unknown = fmt::format("not yet predictable: the drift of {:+.2g} %/month is not told from the scatter",
                                fit.slope * 100.0);
  else if (fit.slope > 0.0)
    found.unknown = fmt::format("the sensitivity rises by {:.2g} %/month: find out why", fit.slope * 100.0);
  else if (crossing->x > limit.count())
    found.unknown = "not within ten years";
  if (!found.unknown.empty()) return found;
  found.expected = after(origin, Months{crossing->x});
  // The line may pass the share before its first point, on a cell that was worn when it came: that is the origin.
  found.earliest = after(origin, Months{std::max(crossing->interval.low, -forecast_limit.count())});
  if (crossing->interval.high <= limit.count()) found.latest = after(origin, Months{crossing->interval.high});
  return found;
}

void draw_line(const LifePlan& plan, WallTime now, CellLife& life) {
  std::vector<DataPair> pairs;
  for (const auto& point : life.sensitivities)
    pairs.push_back({Months{point.performed - life.sensitivities.front().performed}.count(), point.share});
  const auto fit = compensation::fit_line(pairs);
  const auto interval =
      fit ? compensation::slope_interval(*fit, plan.level)
          : tl::expected<compensation::Interval, compensation::StatisticsError>{tl::unexpected(fit.error())};
  if (!interval) {
    life.drift_unknown = pairs.size() < 3 ? fmt::format("{} of the 3 adjustments that a drift needs", pairs.size())
                                          : interval.error().what;
    life.maintenance.unknown = life.failure.unknown = "not yet predictable: " + life.drift_unknown;
    return;
  }
  life.drift =
      SensitivityDrift{.per_month = fit->slope, .per_month_interval = *interval, .significant = !interval->covers(0.0)};
  const WallTime origin = life.sensitivities.front().performed;
  life.maintenance = forecast(*fit, origin, plan.maintenance_share, plan, now);
  life.failure = forecast(*fit, origin, plan.failure_share, plan, now);
}

void set_due_dates(const std::vector<CalibrationRecord>& standing, const LifePlan& plan, WallTime now, CellLife& life) {
  std::optional<WallTime> adjusted, looked_at, failed;
  for (const auto& record : standing) { // oldest first, so the last one wins
    if (record.act == CalibrationAct::adjustment) {
      adjusted = looked_at = record.performed;
      failed.reset();
    } else if (record.act == CalibrationAct::check) {
      looked_at = record.performed;
      if (outcome_of(record, plan.tolerance).passed)
        failed.reset();
      else
        failed = record.performed;
    }
  }
  if (adjusted && plan.check_every) life.next_check = *looked_at + *plan.check_every;
  if (adjusted && plan.calibrate_every) life.next_calibration = *adjusted + *plan.calibrate_every;
  // At once: a failed check demands a full calibration, whatever the readings it found wrong rest on.
  if (failed) life.next_calibration = *failed;
  life.failed_check = failed.has_value();
  life.check_overdue = life.next_check && now > *life.next_check;
  life.calibration_overdue = life.next_calibration && now > *life.next_calibration;
}

std::string overdue_text(std::string_view what, WallTime due, WallTime now) {
  const auto days = std::chrono::floor<std::chrono::days>(now - due).count();
  return fmt::format("{} was due on {} ({} d ago)", what, day_text(due), days);
}

void give_reasons(const LifePlan& plan, WallTime now, CellLife& life) {
  auto& reasons = life.reasons;
  if (life.failed_check)
    reasons.push_back({Status::out_of_specification,
                       fmt::format("the check of {} failed: calibrate the cell", day_text(*life.next_calibration))});
  else if (life.calibration_overdue)
    reasons.push_back({Status::maintenance_required, overdue_text("calibration", *life.next_calibration, now)});
  if (life.check_overdue)
    reasons.push_back({Status::maintenance_required, overdue_text("a check with gas", *life.next_check, now)});
  if (!life.sensitivities.empty()) {
    const double share = life.sensitivities.back().share;
    if (share < plan.failure_share)
      reasons.push_back(
          {Status::failure, fmt::format("cell spent: {:.0f} % of its first sensitivity (at least {:.0f} %)",
                                        share * 100.0, plan.failure_share * 100.0)});
    else if (share < plan.maintenance_share)
      reasons.push_back({Status::maintenance_required,
                         fmt::format("cell worn: {:.0f} % of its first sensitivity (at least {:.0f} %): replace it",
                                     share * 100.0, plan.maintenance_share * 100.0)});
  }
  if (life.end_of_permitted_age && now >= *life.end_of_permitted_age)
    reasons.push_back(
        {Status::maintenance_required, fmt::format("cell in use for {:.0f} months (at most {:.0f}): replace it",
                                                   life.age->count(), plan.permitted_age->count())});
  else if (life.replace_by && now + plan.notice >= *life.replace_by)
    reasons.push_back(
        {Status::maintenance_required, fmt::format("replace the cell by {}", day_text(*life.replace_by))});
}

} // namespace

CellLife life_of(const std::vector<CalibrationRecord>& records, std::string_view serial, const LifePlan& plan,
                 WallTime now) {
  auto standing = effective_of(records, serial);
  std::erase_if(standing, [&](const auto& record) { return record.performed > now; });
  CellLife life;
  life.serial = serial;
  life.first_use = plan.first_use;
  if (!life.first_use && !standing.empty()) life.first_use = standing.front().performed;
  if (life.first_use) life.age = Months{now - *life.first_use};
  if (life.first_use && plan.permitted_age) life.end_of_permitted_age = after(*life.first_use, *plan.permitted_age);
  collect_sensitivities(standing, life);
  draw_line(plan, now, life);
  life.replace_by = life.end_of_permitted_age;
  if (life.failure.earliest && (!life.replace_by || *life.failure.earliest < *life.replace_by))
    life.replace_by = life.failure.earliest;
  set_due_dates(standing, plan, now, life);
  give_reasons(plan, now, life);
  return life;
}

} // namespace oxherd::daemon
