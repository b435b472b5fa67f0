#include "daemon/replay/basis_in_force.hpp"

#include <algorithm>
#include <iterator>

#include "daemon/calibration/in_force.hpp"

namespace oxherd::daemon {

namespace {

std::vector<ActiveCalibration> adjustments_of(const std::vector<CalibrationRecord>& records, const std::string& room,
                                              const std::string& sensor, const std::string& serial) {
  std::vector<CalibrationRecord> own;
  std::ranges::copy_if(records, std::back_inserter(own), [&](const CalibrationRecord& record) {
    return record.room == room && record.sensor == sensor && record.serial == serial;
  });
  std::vector<ActiveCalibration> line;
  for (const auto& record : effective_of(own, serial))
    if (record.act == CalibrationAct::adjustment && record.calibration)
      line.push_back({*record.calibration, record.performed, record.number});
  return line;
}

std::optional<ActiveCalibration> last_by(const std::vector<ActiveCalibration>& line, WallTime at) {
  const auto after = std::ranges::find_if(line, [&](const ActiveCalibration& one) { return *one.at > at; });
  return after == line.begin() ? std::nullopt : std::optional{*std::prev(after)};
}

} // namespace

std::optional<ActiveCalibration> recorded_calibration(const std::vector<CalibrationRecord>& records,
                                                      const std::string& room, const std::string& sensor,
                                                      const std::string& serial, WallTime at) {
  return last_by(adjustments_of(records, room, sensor, serial), at);
}

const BasisInForce::Line& BasisInForce::line_of(const std::string& room, const std::string& sensor,
                                                const std::string& serial) {
  const auto [place, is_new] = lines_.try_emplace(room + '/' + sensor + '/' + serial);
  if (is_new) place->second = adjustments_of(records_, room, sensor, serial);
  return place->second;
}

SharedBasis BasisInForce::operator()(const RecordedOxygen& recorded) {
  const auto& before = recorded.later ? recorded.later->basis : recorded.basis;
  if (!before->cell) return before; // a transmitter has no calibration of ours
  const std::string& serial = before->cell->serial;
  for (const auto& basis : {recorded.basis, before})
    if (basis->calibration && basis->calibration->number == 0) configured_[serial] = *basis->calibration;
  auto chosen = last_by(line_of(recorded.room, recorded.sensor, serial), recorded.at);
  const auto configured = configured_.find(serial);
  if (configured != configured_.end()) {
    const auto& other = configured->second;
    if (!chosen || (other.at && *other.at <= recorded.at && *other.at > *chosen->at)) chosen = other;
  }
  const std::int64_t number = chosen ? chosen->number : -1;
  if (chosen && before->calibration && before->calibration->number == number) return before;
  auto& [from, to] = made_[{before.get(), number}];
  if (to) return to;
  ReadingBasis basis = *before;
  basis.calibration = std::move(chosen);
  from = before; // kept, so that its address stays its own
  to = std::make_shared<const ReadingBasis>(std::move(basis));
  return to;
}

} // namespace oxherd::daemon
