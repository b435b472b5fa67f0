#include "daemon/store/basis_text.hpp"

#include <stdexcept>

#include <nlohmann/json.hpp>

#include "compensation/cells/catalogue.hpp"
#include "daemon/calibration/calibration_json.hpp"

namespace oxherd::daemon::store {
namespace {

using nlohmann::json;
using namespace compensation;

/// 2: the calibration in the form of its record. Texts of version 1, which had one of their own, stay readable.
constexpr int format_version = 2;

template <class Q> json pair_of(const Uncertain<Q>& value) { return json::array({value.value.si(), value.u_si}); }
template <class Q> void read_pair(const json& from, Uncertain<Q>& out) {
  out = {Q::from_si(from.at(0).get<double>()), from.at(1).get<double>()};
}

json gas_json(const GasConditions& gas) {
  json out{{"temperature", pair_of(gas.temperature)},
           {"humidity", pair_of(gas.humidity)},
           {"pressure", pair_of(gas.pressure)}};
  if (gas.humidity_temperature) out["humidity_temperature"] = pair_of(*gas.humidity_temperature);
  return out;
}
GasConditions gas_from(const json& from) {
  GasConditions gas;
  read_pair(from.at("temperature"), gas.temperature);
  read_pair(from.at("humidity"), gas.humidity);
  read_pair(from.at("pressure"), gas.pressure);
  if (const auto own = from.find("humidity_temperature"); own != from.end())
    read_pair(*own, gas.humidity_temperature.emplace());
  return gas;
}

/// The calibration of version 1: values and their u as pairs, what is absent left out.
CalibrationPoint old_point_from(const json& from) {
  CalibrationPoint point;
  read_pair(from.at("signal"), point.signal);
  read_pair(from.at("oxygen"), point.oxygen);
  point.gas = gas_from(from.at("gas"));
  if (const auto air = from.find("reference_air"); air != from.end()) point.reference_air = gas_from(*air);
  return point;
}

Calibration old_calibration_from(const json& from) {
  Calibration calibration;
  calibration.span = old_point_from(from.at("span"));
  read_pair(from.at("zero"), calibration.zero);
  if (const auto low = from.find("low"); low != from.end()) calibration.low = old_point_from(*low);
  return calibration;
}

Calibration calibration_in(const json& from) {
  const auto read = calibration_from_json(from);
  if (!read) throw std::invalid_argument{read.error()};
  return *read;
}

CellModel model_from(const std::string& word) {
  const auto* law = cells::find(word);
  if (law == nullptr) throw std::invalid_argument{"unknown cell model \"" + word + "\""};
  return law->model;
}

/// Days and milliseconds as whole numbers; null where nothing is asked for.
template <class T> json count_of(const std::optional<T>& time) {
  return time ? json(static_cast<std::int64_t>(time->count())) : json(nullptr);
}
json upkeep_json(const config::CellUpkeep& upkeep) {
  json out{{"check_every", count_of(upkeep.check_every)},
           {"calibrate_every", count_of(upkeep.calibrate_every)},
           {"permitted_age", count_of(upkeep.permitted_age)}};
  if (upkeep.first_used) out["first_used"] = upkeep.first_used->time_since_epoch().count();
  return out;
}
config::CellUpkeep upkeep_from(const json& from) {
  const auto days_at = [&from](const char* key) {
    const json& count = from.at(key);
    return count.is_null() ? std::optional<std::chrono::days>{} : std::chrono::days{count.get<int>()};
  };
  config::CellUpkeep upkeep{days_at("check_every"), days_at("calibrate_every"), days_at("permitted_age"), {}};
  if (const auto at = from.find("first_used"); at != from.end())
    upkeep.first_used = WallTime{std::chrono::milliseconds{at->get<std::int64_t>()}};
  return upkeep;
}

json cell_json(const config::CellSettings& cell) {
  json out{{"model", cells::law_of(cell.cell.model).name},
           {"response_reference", cell.cell.response.reference.si()},
           {"response", cell.cell.response.coefficients},
           {"nominal_zero", pair_of(cell.nominal_zero)},
           {"serial", cell.serial},
           {"dead_below", cell.dead_below.si()},
           {"drift_per_month", cell.drift_per_month},
           {"resolution", cell.resolution.si()},
           {"linearity", cell.linearity},
           {"upkeep", upkeep_json(cell.upkeep)},
           {"stable_for", cell.stable_for.count()}};
  if (const auto& span = cell.signal_in_air) out["signal_in_air"] = {span->low.si(), span->high.si()};
  if (const auto& nernst = cell.cell.nernst)
    out["nernst"] = {{"furnace", pair_of(nernst->furnace)},
                     {"reference_air", gas_json(nernst->reference_air)},
                     {"reference_oxygen", pair_of(nernst->reference_oxygen)}};
  return out;
}
config::CellSettings cell_from(const json& from) {
  config::CellSettings cell;
  cell.cell.model = model_from(from.at("model").get<std::string>());
  cell.cell.response.reference = kelvins(from.at("response_reference").get<double>());
  cell.cell.response.coefficients = from.at("response").get<std::vector<double>>();
  read_pair(from.at("nominal_zero"), cell.nominal_zero);
  cell.serial = from.at("serial").get<std::string>();
  cell.dead_below = Signal::from_si(from.at("dead_below").get<double>());
  cell.drift_per_month = from.at("drift_per_month").get<double>();
  // Readings from before these were asked for had none of them.
  if (const auto step = from.find("resolution"); step != from.end())
    cell.resolution = Signal::from_si(step->get<double>());
  if (const auto off = from.find("linearity"); off != from.end()) cell.linearity = off->get<double>();
  if (const auto level = from.find("stable_for"); level != from.end())
    cell.stable_for = std::chrono::seconds{level->get<std::int64_t>()};
  if (const auto found = from.find("upkeep"); found != from.end()) cell.upkeep = upkeep_from(*found);
  if (const auto span = from.find("signal_in_air"); span != from.end())
    cell.signal_in_air = {Signal::from_si(span->at(0).get<double>()), Signal::from_si(span->at(1).get<double>())};
  if (const auto found = from.find("nernst"); found != from.end()) {
    NernstCell nernst;
    read_pair(found->at("furnace"), nernst.furnace);
    nernst.reference_air = gas_from(found->at("reference_air"));
    read_pair(found->at("reference_oxygen"), nernst.reference_oxygen);
    cell.cell.nernst = nernst;
  }
  return cell;
}

ReadingBasis basis_in(const json& from) {
  const int version = from.at("version").get<int>();
  if (version < 1 || version > format_version) throw std::invalid_argument{"written by another version of oxherd"};
  ReadingBasis basis;
  basis.reports_dry = from.at("reports_dry").get<bool>();
  basis.temperature_from = from.at("temperature_from").get<std::string>();
  basis.humidity_from = from.at("humidity_from").get<std::string>();
  basis.pressure_from = from.at("pressure_from").get<std::string>();
  if (const auto cell = from.find("cell"); cell != from.end()) basis.cell = cell_from(*cell);
  if (const auto found = from.find("calibration"); found != from.end()) {
    const json& values = found->at("values");
    ActiveCalibration active{version == 1 ? old_calibration_from(values) : calibration_in(values),
                             {},
                             found->at("number").get<std::int64_t>()};
    if (const auto at = found->find("at"); at != found->end())
      active.at = WallTime{std::chrono::milliseconds{at->get<std::int64_t>()}};
    basis.calibration = std::move(active);
  }
  return basis;
}

} // namespace

std::string basis_text(const ReadingBasis& basis) {
  json out{{"version", format_version},
           {"reports_dry", basis.reports_dry},
           {"temperature_from", basis.temperature_from},
           {"humidity_from", basis.humidity_from},
           {"pressure_from", basis.pressure_from}};
  if (basis.cell) out["cell"] = cell_json(*basis.cell);
  if (const auto& active = basis.calibration) {
    out["calibration"] = {{"number", active->number}, {"values", json::parse(calibration_json(active->calibration))}};
    if (active->at) out["calibration"]["at"] = active->at->time_since_epoch().count();
  }
  return out.dump(-1, ' ', false, json::error_handler_t::replace);
}

tl::expected<ReadingBasis, std::string> basis_from(std::string_view text) {
  try {
    return basis_in(json::parse(text));
  } catch (const std::exception& error) {
    return tl::unexpected(std::string{"what the reading rests on cannot be read: "} + error.what());
  }
}

} // namespace oxherd::daemon::store
