#include "daemon/logfile/cell_reader.hpp"

#include <cmath>

namespace oxherd::daemon::logfile {
namespace {

constexpr FileTime ms_per_day = 86'400'000;
constexpr double ms_per_month = 2'629'800e3; // 30.4375 days

FileTime start_of_day(FileTime time) {
  const FileTime into = time % ms_per_day;
  return time - into - (into < 0 ? ms_per_day : 0);
}

} // namespace

CellReader::CellReader(const config::CellSettings& cell, const config::CalibrationSettings& calibration)
    : cell_{cell.cell}, stated_{calibration.calibration}, drift_per_month_{cell.drift_per_month},
      in_force_{compensation::PreparedCell::from(cell.cell, calibration.calibration)} {
  if (calibration.at) calibrated_ = calibration.at->time_since_epoch().count();
  if (cell.cell.model == compensation::CellModel::nernst) return;
  near_zero_V_ = stated_.zero.value.si() + cell.dead_below.si();
}

void CellReader::use_at(FileTime time) {
  if (!calibrated_) return;
  const FileTime day = start_of_day(time);
  if (day_ == day) return;
  day_ = day;
  if (day <= *calibrated_) {
    in_force_ = compensation::PreparedCell::from(cell_, stated_);
    return;
  }
  // In either direction for all we know: rectangular (GUM 4.3.7), entered through the calibration signal.
  const double months = static_cast<double>(day - *calibrated_) / ms_per_month;
  const double span_V = stated_.span.signal.value.si() - stated_.zero.value.si();
  const double drift_V = drift_per_month_ * months / std::sqrt(3.0) * span_V;
  auto widened = stated_;
  widened.span.signal.u_si = std::hypot(stated_.span.signal.u_si, drift_V);
  in_force_ = compensation::PreparedCell::from(cell_, widened);
}

tl::expected<compensation::OxygenReading, compensation::ReadingError>
CellReader::read(Uncertain<Signal> signal, const compensation::GasConditions& gas) const {
  if (!in_force_) return tl::unexpected(in_force_.error());
  return in_force_->read(signal, gas);
}

} // namespace oxherd::daemon::logfile
