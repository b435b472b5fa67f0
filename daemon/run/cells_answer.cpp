#include "daemon/run/cells_answer.hpp"

#include <nlohmann/json.hpp>

#include "daemon/calibration/record_json.hpp"
#include "daemon/json_text.hpp"
#include "daemon/store/basis_text.hpp"

namespace oxherd::daemon {
namespace {

std::string cell_in_use_json(const CellInUse& in_use) {
  ReadingBasis basis;
  basis.cell = in_use.cell;
  if (in_use.configured) basis.calibration = {in_use.configured->calibration, in_use.configured->at, 0};
  return JsonObject{}
      .text("room", in_use.room)
      .text("sensor", in_use.sensor)
      .text("calibrated_by", in_use.configured ? in_use.configured->by : "")
      .json("basis", store::basis_text(basis))
      .str();
}

tl::expected<CellInUse, std::string> cell_in_use_from(const nlohmann::json& from) {
  auto basis = store::basis_from(from.at("basis").dump());
  if (!basis) return tl::unexpected(basis.error());
  if (!basis->cell) return tl::unexpected(std::string{"a cell without its settings"});
  CellInUse in_use{from.at("room").get<std::string>(), from.at("sensor").get<std::string>(), *basis->cell, {}};
  if (const auto& active = basis->calibration)
    in_use.configured = {active->calibration, active->at, from.at("calibrated_by").get<std::string>()};
  return in_use;
}

tl::expected<CellsAndRecords, std::string> all_from(const nlohmann::json& result) {
  CellsAndRecords all;
  for (const auto& one : result.at("cells")) {
    auto cell = cell_in_use_from(one);
    if (!cell) return tl::unexpected(cell.error());
    all.cells.push_back(std::move(*cell));
  }
  for (const auto& one : result.at("records")) {
    auto record = record_from_json(one.dump());
    if (!record) return tl::unexpected("a calibration record: " + record.error());
    all.records.push_back(std::move(*record));
  }
  return all;
}

} // namespace

std::string calibrations_answer(const std::vector<CellInUse>& cells, const std::vector<CalibrationRecord>& records) {
  std::vector<std::string> cell_objects, record_objects;
  for (const auto& cell : cells) cell_objects.push_back(cell_in_use_json(cell));
  for (const auto& record : records) record_objects.push_back(to_json(record));
  return JsonObject{}.json("cells", json_array(cell_objects)).json("records", json_array(record_objects)).str();
}

tl::expected<CellsAndRecords, std::string> cells_and_records_from(std::string_view result) {
  try {
    return all_from(nlohmann::json::parse(result));
  } catch (const nlohmann::json::exception& error) {
    return tl::unexpected(std::string{"not understood: "} + error.what());
  }
}

} // namespace oxherd::daemon
