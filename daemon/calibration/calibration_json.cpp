#include "daemon/calibration/calibration_json.hpp"

#include "daemon/calibration/record_pieces.hpp"

namespace oxherd::daemon {
namespace {

std::string conditions_json(const compensation::GasConditions& gas) {
  return JsonObject{}
      .json("temperature_K", uncertain_json(gas.temperature))
      .json("humidity", uncertain_json(gas.humidity))
      .json("humidity_temperature_K", or_null(gas.humidity_temperature))
      .json("pressure_Pa", uncertain_json(gas.pressure))
      .str();
}

} // namespace

std::string values_json(const compensation::CalibrationPoint& point) {
  return JsonObject{}
      .json("signal_V", uncertain_json(point.signal))
      .json("oxygen", uncertain_json(point.oxygen))
      .json("gas", conditions_json(point.gas))
      .json("reference_air", or_null(point.reference_air, conditions_json))
      .str();
}

std::string calibration_json(const compensation::Calibration& calibration) {
  return JsonObject{}
      .json("span", values_json(calibration.span))
      .json("zero_V", uncertain_json(calibration.zero))
      .json("low", or_null(calibration.low, values_json))
      .str();
}

} // namespace oxherd::daemon
