#include "daemon/calibration/care.hpp"

#include <algorithm>

#include "compensation/calibration.hpp"
#include "compensation/cells/catalogue.hpp"

namespace oxherd::daemon {
namespace {

CalibrationRecord record_of_configuration(const CellInUse& cell) {
  const auto& configured = *cell.configured;
  CalibrationRecord record;
  record.performed = record.recorded = *configured.at;
  record.room = cell.room;
  record.sensor = cell.sensor;
  record.serial = cell.cell.serial;
  record.model = compensation::cells::law_of(cell.cell.cell.model).name;
  record.author = configured.by;
  record.reason = "stands in the configuration";
  record.calibration = configured.calibration;
  if (const auto found = compensation::characterise(cell.cell.cell, configured.calibration))
    record.characteristic = *found;
  return record;
}

} // namespace

std::vector<CellInUse> cells_in_use(const config::Settings& settings) {
  std::vector<CellInUse> cells;
  for (const auto& room : settings.rooms)
    for (const auto& sensor : room.sensors)
      if (sensor.cell) cells.push_back({room.name, sensor.name, *sensor.cell, sensor.calibration});
  return cells;
}

LifePlan plan_for(const config::CellSettings& cell) {
  LifePlan plan;
  plan.check_every = cell.upkeep.check_every;
  plan.calibrate_every = cell.upkeep.calibrate_every;
  plan.permitted_age.reset();
  if (cell.upkeep.permitted_age) plan.permitted_age = Months{*cell.upkeep.permitted_age};
  plan.first_use = cell.upkeep.first_used;
  return plan;
}

std::vector<CalibrationRecord> records_of(const CellInUse& cell, const std::vector<CalibrationRecord>& records) {
  const auto& serial = cell.cell.serial;
  auto own = effective_of(records, serial);
  if (serial.empty())
    std::erase_if(own, [&](const auto& record) { return record.room != cell.room || record.sensor != cell.sensor; });
  if (!cell.configured || !cell.configured->at) return own;
  auto configured = record_of_configuration(cell);
  const auto later = std::ranges::find_if(own, [&](const auto& r) { return r.performed > configured.performed; });
  own.insert(later, std::move(configured));
  return own;
}

CellLife life_of(const CellInUse& cell, const std::vector<CalibrationRecord>& records, WallTime now) {
  return life_of(records_of(cell, records), cell.cell.serial, plan_for(cell.cell), now);
}

CellReasons cell_reasons(const std::vector<CellInUse>& cells, const std::vector<CalibrationRecord>& records,
                         WallTime now) {
  CellReasons reasons;
  for (const auto& cell : cells) reasons[cell.room + "/" + cell.sensor] = life_of(cell, records, now).reasons;
  return reasons;
}

} // namespace oxherd::daemon
