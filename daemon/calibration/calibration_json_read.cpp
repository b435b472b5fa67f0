#include "daemon/calibration/calibration_json.hpp"
#include "daemon/calibration/record_fields.hpp"

namespace oxherd::daemon {
namespace {

compensation::GasConditions conditions_from(RecordFields in) {
  compensation::GasConditions gas;
  gas.temperature = uncertain_from<Temperature>(in.object("temperature_K"));
  gas.humidity = uncertain_from<RelativeHumidity>(in.object("humidity"));
  gas.humidity_temperature = maybe_uncertain<Temperature>(in, "humidity_temperature_K");
  gas.pressure = uncertain_from<Pressure>(in.object("pressure_Pa"));
  in.finish();
  return gas;
}

} // namespace

compensation::CalibrationPoint values_from(RecordFields in) {
  compensation::CalibrationPoint point;
  point.signal = uncertain_from<Signal>(in.object("signal_V"));
  point.oxygen = uncertain_from<DryFraction>(in.object("oxygen"));
  point.gas = conditions_from(in.object("gas"));
  point.reference_air = in.maybe<compensation::GasConditions>(
      "reference_air", [&](const char* key) { return conditions_from(in.object(key)); });
  in.finish();
  return point;
}

compensation::Calibration calibration_from(RecordFields in) {
  compensation::Calibration calibration;
  calibration.span = values_from(in.object("span"));
  calibration.zero = uncertain_from<Signal>(in.object("zero_V"));
  calibration.low =
      in.maybe<compensation::CalibrationPoint>("low", [&](const char* key) { return values_from(in.object(key)); });
  in.finish();
  return calibration;
}

tl::expected<compensation::Calibration, std::string> calibration_from_json(const nlohmann::json& object) {
  std::string problem;
  auto calibration = calibration_from({object, "", problem});
  if (!problem.empty()) return tl::unexpected("calibration: " + problem);
  return calibration;
}

} // namespace oxherd::daemon
