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

bool CellReader::changes_at(FileTime time) const { return calibrated_ && day_ != start_of_day(time); }

void CellReader::use_at(FileTime time) {
  if (!calibrated_ || !changes_at(time)) return;
  day_ = start_of_day(time);
  errors_ = signal_errors(cell_, std::chrono::milliseconds{*day_ - *calibrated_});
}

void CellReader::read(ReadingBlock& block, std::size_t count) const {
  if (prepared_)
    block.read(*prepared_, errors_, count);
  else
    block.valid.fill(0);
}

std::string CellReader::why_none(const ReadingBlock& block, std::size_t i) const {
  if (!prepared_) return prepared_.error().what;
  const auto reading = prepared_->read(block.signal_of(i), block.gas_of(i), errors_);
  return reading ? std::string{} : reading.error().what;
}

} // namespace oxherd::daemon::logfile
