#include "daemon/logfile/cell_reader.hpp"

#include "daemon/signal_errors.hpp"

namespace oxherd::daemon::logfile {
namespace {

constexpr FileTime ms_per_day = 86'400'000;

FileTime start_of_day(FileTime time) {
  const FileTime into = time % ms_per_day;
  return time - into - (into < 0 ? ms_per_day : 0);
}

} // namespace

CellReader::CellReader(const config::CellSettings& cell, const config::CalibrationSettings& calibration)
    : cell_{cell}, prepared_{compensation::PreparedCell::from(cell.cell, calibration.calibration)},
      errors_{signal_errors(cell, std::chrono::milliseconds{0})} {
  if (calibration.at) calibrated_ = calibration.at->time_since_epoch().count();
  if (cell.cell.model == compensation::CellModel::nernst) return;
  near_zero_V_ = calibration.calibration.zero.value.si() + cell.dead_below.si();
}

void CellReader::use_at(FileTime time) {
  if (!calibrated_) return;
  const FileTime day = start_of_day(time);
  if (day_ == day) return;
  day_ = day;
  errors_ = signal_errors(cell_, std::chrono::milliseconds{day - *calibrated_});
}

tl::expected<compensation::OxygenReading, compensation::ReadingError>
CellReader::read(Uncertain<Signal> signal, const compensation::GasConditions& gas) const {
  if (!prepared_) return tl::unexpected(prepared_.error());
  return prepared_->read(signal, gas, errors_);
}

} // namespace oxherd::daemon::logfile
