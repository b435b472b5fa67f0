#include "daemon/calibration/session.hpp"

#include <algorithm>
#include <cmath>
#include <iterator>

#include <fmt/core.h>
#include <fmt/ranges.h>

#include "compensation/calibration.hpp"
#include "compensation/cells/catalogue.hpp"

namespace oxherd::daemon {
namespace {

/// Longer than any window that stability asks for; a day left open must not fill the memory.
constexpr double seconds_kept = 900.0;
constexpr std::size_t samples_kept = 20000;
/// Signal in air that relative limits refer to where no calibration tells one: trade practice, 8 to 15 mV.
constexpr double nominal_span_V = 0.010;

struct Mean {
  double value = 0.0, scatter = 0.0; ///< of the samples, one standard deviation
};
template <class Get> Mean mean_of(const std::vector<const SessionSample*>& window, Get get) {
  Mean mean;
  for (const auto* sample : window) mean.value += get(*sample);
  mean.value /= static_cast<double>(window.size());
  for (const auto* sample : window) mean.scatter += (get(*sample) - mean.value) * (get(*sample) - mean.value);
  mean.scatter = window.size() < 2 ? 0.0 : std::sqrt(mean.scatter / static_cast<double>(window.size() - 1));
  return mean;
}

/// The instrument's own uncertainty does not average away; what moved meanwhile adds to it.
template <class Q, class Get>
Uncertain<Q> averaged(const std::vector<const SessionSample*>& window, double u_instrument, Get get) {
  const Mean mean = mean_of(window, get);
  return {Q::from_si(mean.value), std::hypot(u_instrument, mean.scatter)};
}

compensation::GasConditions average_gas(const std::vector<const SessionSample*>& window) {
  const auto& last = window.back()->gas;
  compensation::GasConditions gas;
  gas.temperature =
      averaged<Temperature>(window, last.temperature.u_si, [](const auto& s) { return s.gas.temperature.value.si(); });
  gas.humidity =
      averaged<RelativeHumidity>(window, last.humidity.u_si, [](const auto& s) { return s.gas.humidity.value.si(); });
  gas.pressure =
      averaged<Pressure>(window, last.pressure.u_si, [](const auto& s) { return s.gas.pressure.value.si(); });
  if (last.humidity_temperature)
    gas.humidity_temperature = averaged<Temperature>(window, last.humidity_temperature->u_si, [&](const auto& s) {
      return s.gas.humidity_temperature ? s.gas.humidity_temperature->value.si()
                                        : last.humidity_temperature->value.si();
    });
  return gas;
}

void put_typed(TakenPoint& point, const TypedConditions& typed) {
  auto& gas = point.values.gas;
  if (typed.temperature) {
    gas.temperature = *typed.temperature;
    gas.humidity_temperature.reset();
    point.temperature_from = "typed";
  }
  if (typed.humidity) {
    gas.humidity = *typed.humidity;
    point.humidity_from = "typed";
  }
  if (typed.pressure) {
    gas.pressure = *typed.pressure;
    point.pressure_from = "typed";
  }
}

std::optional<Uncertain<DryFraction>> read_by(const compensation::Cell& cell,
                                              const compensation::Calibration& calibration, const TakenPoint& point) {
  const auto reading = compensation::read_oxygen(cell, calibration, point.values.signal, point.values.gas);
  if (!reading) return std::nullopt;
  return Uncertain<DryFraction>{reading->dry, reading->u_dry};
}

} // namespace

CalibrationSession::CalibrationSession(SessionPlan plan, SharedBasis before, double seconds, WallTime began)
    : plan_{std::move(plan)}, before_{std::move(before)}, began_{began}, point_began_{seconds} {}

void CalibrationSession::add(const SessionSample& sample) {
  latest_ = sample;
  seen_.push_back(sample);
  while (seen_.size() > samples_kept || seen_.back().seconds - seen_.front().seconds > seconds_kept) seen_.pop_front();
}

void CalibrationSession::start_point(double seconds) {
  seen_.clear();
  point_began_ = seconds;
}

SignalScale CalibrationSession::scale() const {
  if (!before_->calibration) return {nominal_span_V, 0.0};
  const auto& calibration = before_->calibration->calibration;
  const double span_V = std::abs(calibration.span.signal.value.si());
  return {span_V > 0.0 ? span_V : nominal_span_V, 0.0};
}

StabilityVerdict CalibrationSession::stability() const {
  std::vector<StabilitySample> window;
  window.reserve(seen_.size());
  for (const auto& one : seen_)
    window.push_back({one.seconds, one.signal.value.si(), one.gas.temperature.value.si(), one.gas.pressure.value.si(),
                      one.gas.humidity.value.si()});
  return judge_stability(window, scale(), plan_.stability);
}

std::optional<compensation::OxygenReading> CalibrationSession::reading() const {
  if (!latest_ || !before_->calibration) return std::nullopt;
  const auto reading =
      compensation::read_oxygen(before_->cell->cell, before_->calibration->calibration, latest_->signal, latest_->gas);
  return reading ? std::optional{*reading} : std::nullopt;
}

tl::expected<TakenPoint, std::string> CalibrationSession::take(const ReferenceGas& gas, const TypedConditions& typed) {
  const auto verdict = stability();
  if (!verdict.evidence.stable)
    return tl::unexpected(fmt::format("the signal is not stable yet: {}", fmt::join(verdict.waiting_for, "; ")));
  std::vector<const SessionSample*> window;
  for (const auto& sample : seen_)
    if (seen_.back().seconds - sample.seconds <= verdict.evidence.seconds + 1e-9) window.push_back(&sample);
  TakenPoint point;
  point.gas = gas;
  point.stability = verdict.evidence;
  const Mean signal = mean_of(window, [](const auto& s) { return s.signal.value.si(); });
  const double independent = std::max(1.0, verdict.effective_samples.value_or(1.0));
  point.values.signal = {Signal::from_si(signal.value),
                         std::hypot(window.back()->signal.u_si, signal.scatter / std::sqrt(independent))};
  point.values.oxygen = gas.oxygen;
  point.values.gas = average_gas(window);
  point.temperature_from = before_->temperature_from;
  point.humidity_from = before_->humidity_from;
  point.pressure_from = before_->pressure_from;
  if (gas.kind != GasKind::fresh_air) {
    point.values.gas.humidity = dry_gas_humidity;
    point.humidity_from = dry_gas_source;
  }
  put_typed(point, typed);
  pressure_range_Pa_ = std::max(pressure_range_Pa_, verdict.pressure_range_Pa);
  humidity_range_ = std::max(humidity_range_, verdict.humidity_range);
  typed_ = typed_ || typed.any();
  taken_at_ = seen_.back().at;
  points_.push_back(point);
  start_point(seen_.back().seconds);
  return point;
}

void CalibrationSession::enter(TakenPoint point, WallTime performed) {
  typed_ = true;
  taken_at_ = performed;
  points_.push_back(std::move(point));
}

compensation::Calibration CalibrationSession::calibration_of(const std::vector<TakenPoint>& points) const {
  compensation::Calibration calibration;
  calibration.span = points.back().values;
  calibration.zero = before_->cell->nominal_zero;
  if (points.size() > 1) {
    calibration.low = points.front().values;
  } else if (before_->calibration) { // a zero that was measured once is better than the nominal one
    const auto earlier = compensation::characterise(before_->cell->cell, before_->calibration->calibration);
    if (earlier && before_->cell->cell.model != compensation::CellModel::nernst) calibration.zero = earlier->zero;
  }
  return calibration;
}

CalibrationRecord CalibrationSession::propose(WallTime now, const std::string& reason, std::string& problem) const {
  const auto& cell = *before_->cell;
  CalibrationRecord record;
  record.act = plan_.act;
  record.performed = taken_at_.value_or(now);
  record.recorded = now;
  record.room = plan_.room;
  record.sensor = plan_.sensor;
  record.serial = cell.serial;
  record.model = compensation::cells::law_of(cell.cell.model).name;
  record.author = plan_.author;
  record.reason = reason;
  record.points = points_;
  std::ranges::stable_sort(record.points, std::ranges::less{},
                           [](const TakenPoint& point) { return point.gas.oxygen.value.si(); });
  if (before_->calibration)
    for (auto& point : record.points) point.as_found = read_by(cell.cell, before_->calibration->calibration, point);
  if (record.act != CalibrationAct::adjustment || record.points.empty()) return record;
  const auto calibration = calibration_of(record.points);
  const auto characteristic = compensation::characterise(cell.cell, calibration);
  if (!characteristic) {
    problem = characteristic.error().what;
    return record;
  }
  record.calibration = calibration;
  record.characteristic = *characteristic;
  for (auto& point : record.points) point.as_left = read_by(cell.cell, calibration, point);
  return record;
}

void CalibrationSession::describe(Circumstances& circumstances) const {
  circumstances.pressure_range_Pa = pressure_range_Pa_;
  circumstances.humidity_range = humidity_range_;
  circumstances.conditions_typed = typed_;
  circumstances.condensing = std::ranges::any_of(
      points_, [](const TakenPoint& point) { return point.values.gas.humidity.value.si() > condensing_humidity; });
}

CalibrationRecord withdrawal_of(const CalibrationRecord& record, const std::string& author, const std::string& reason,
                                WallTime now) {
  CalibrationRecord withdrawal;
  withdrawal.act = CalibrationAct::withdrawal;
  withdrawal.performed = withdrawal.recorded = now;
  withdrawal.room = record.room;
  withdrawal.sensor = record.sensor;
  withdrawal.serial = record.serial;
  withdrawal.model = record.model;
  withdrawal.author = author;
  withdrawal.reason = reason;
  withdrawal.supersedes = record.number;
  return withdrawal;
}

} // namespace oxherd::daemon
