#include "daemon/calibration/record_json.hpp"

#include <algorithm>
#include <array>

#include "daemon/calibration/record_fields.hpp"

namespace oxherd::daemon {
namespace {

ReferenceGas gas_from(RecordFields in) {
  ReferenceGas gas;
  gas.kind = in.one_of("kind", std::array{GasKind::fresh_air, GasKind::nitrogen, GasKind::span_gas});
  gas.oxygen = uncertain_from<DryFraction>(in.object("oxygen"));
  gas.cylinder = in.text("cylinder");
  gas.certificate = in.text("certificate");
  gas.expires = in.maybe<WallTime>("expires", [&](const char* key) { return in.time(key); });
  in.finish();
  return gas;
}

StabilityEvidence stability_from(RecordFields in) {
  StabilityEvidence evidence;
  evidence.seconds = in.number("seconds");
  const auto samples = in.integer("samples");
  if (samples < 0 || samples > std::numeric_limits<int>::max()) in.complain("samples", "is not a count");
  evidence.samples = static_cast<int>(samples);
  evidence.slope_per_minute = in.number("slope_per_minute");
  evidence.u_slope_per_minute = in.number("u_slope_per_minute");
  evidence.scatter = in.number("scatter");
  evidence.temperature_slope_K_per_minute = in.number("temperature_slope_K_per_minute");
  evidence.stable = in.flag("stable");
  in.finish();
  return evidence;
}

TakenPoint point_from(RecordFields in) {
  TakenPoint point;
  point.gas = gas_from(in.object("gas"));
  point.values = values_from(in.object("values"));
  point.stability = stability_from(in.object("stability"));
  point.temperature_from = in.text("temperature_from");
  point.humidity_from = in.text("humidity_from");
  point.pressure_from = in.text("pressure_from");
  point.as_found = maybe_uncertain<DryFraction>(in, "as_found");
  point.as_left = maybe_uncertain<DryFraction>(in, "as_left");
  in.finish();
  return point;
}

compensation::CellCharacteristic characteristic_from(RecordFields in) {
  // The units of every cell model: the record keeps a view, so the text must outlive it.
  constexpr std::array<std::string_view, 4> units{"", "V", "V/Pa", "V/(mol/m3)"};
  compensation::CellCharacteristic cell;
  cell.sensitivity = in.number("sensitivity");
  cell.u_sensitivity = in.number("u_sensitivity");
  const auto unit = in.text("sensitivity_unit");
  const auto known = std::find(units.begin(), units.end(), unit);
  if (known == units.end())
    in.complain("sensitivity_unit", "is not the unit of any cell model");
  else
    cell.sensitivity_unit = *known;
  cell.zero = uncertain_from<Signal>(in.object("zero_V"));
  in.finish();
  return cell;
}

CalibrationRecord record_from(RecordFields in) {
  CalibrationRecord record;
  if (in.integer("version") != record_json_version) {
    in.complain("version", fmt::format("is not {}: read it with a newer program", record_json_version));
    return record;
  }
  record.number = in.integer("number");
  record.act = in.one_of("act", std::array{CalibrationAct::adjustment, CalibrationAct::check, CalibrationAct::bump_test,
                                           CalibrationAct::withdrawal});
  record.performed = in.time("performed");
  record.recorded = in.time("recorded");
  record.room = in.text("room");
  record.sensor = in.text("sensor");
  record.serial = in.text("serial");
  record.model = in.text("model");
  record.author = in.text("author");
  record.reason = in.text("reason");
  in.each("points", [&](const auto& node, std::string path) {
    record.points.push_back(point_from({node, std::move(path), in.problem()}));
  });
  record.calibration = in.maybe<compensation::Calibration>(
      "calibration", [&](const char* key) { return calibration_from(in.object(key)); });
  record.characteristic = in.maybe<compensation::CellCharacteristic>(
      "characteristic", [&](const char* key) { return characteristic_from(in.object(key)); });
  record.supersedes = in.maybe<std::int64_t>("supersedes", [&](const char* key) { return in.integer(key); });
  in.each("warnings", [&](const auto& node, const std::string&) {
    if (!node.is_string()) return in.complain("warnings", "is not a list of texts");
    record.warnings.push_back(node.template get<std::string>());
  });
  in.finish();
  return record;
}

} // namespace

tl::expected<CalibrationRecord, std::string> record_from_json(std::string_view text) {
  if (text.size() > record_json_bytes_max)
    return tl::unexpected(fmt::format("{} bytes are more than a calibration record has", text.size()));
  try {
    const auto root = nlohmann::json::parse(text);
    std::string problem;
    auto record = record_from({root, "", problem});
    if (!problem.empty()) return tl::unexpected("calibration record: " + problem);
    return record;
  } catch (const nlohmann::json::parse_error& error) {
    return tl::unexpected(fmt::format("calibration record: not JSON at byte {}", error.byte));
  } catch (const nlohmann::json::exception&) { // a number beyond any double
    return tl::unexpected(std::string{"calibration record: a number is too large"});
  }
}

} // namespace oxherd::daemon
