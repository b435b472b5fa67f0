#include <fmt/core.h>

#include "alarms/texts.hpp"
#include "daemon/calibration/certificate_text.hpp"
#include "daemon/calibration/record_json.hpp"
#include "daemon/calibration/wording.hpp"
#include "daemon/json_text.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon {
namespace {

/// {"value": 12.6, "expanded": 0.02, "unit": "mV", "text": "12.600 ± 0.020"}
std::string quantity_json(WithExpanded quantity, std::string_view unit) {
  return JsonObject{}
      .number("value", quantity.value)
      .number("expanded", quantity.expanded)
      .text("unit", unit)
      .text("text", with_expanded(quantity))
      .str();
}

std::string with_origin(WithExpanded quantity, std::string_view unit, std::string_view from) {
  return JsonObject{}.json("quantity", quantity_json(quantity, unit)).text("from", from).str();
}

std::string oxygen_json(const std::optional<Uncertain<DryFraction>>& oxygen) {
  return oxygen ? quantity_json(expanded(*oxygen, 100.0), "%") : "null";
}

std::string result_json(const TakenPoint& point) {
  const auto& gas = point.values.gas;
  return JsonObject{}
      .text("gas", words_for(point.gas.kind))
      .json("reference", oxygen_json(point.gas.oxygen))
      .text("cylinder", point.gas.cylinder)
      .text("traceability", traceability_text(point.gas))
      .json("temperature", with_origin(expanded(gas.temperature, 1.0, -273.15), "Cel", point.temperature_from))
      .json("humidity", with_origin(expanded(gas.humidity, 100.0), "%RH", point.humidity_from))
      .json("station_pressure", with_origin(expanded(gas.pressure, 1e-3), "kPa", point.pressure_from))
      .json("signal", quantity_json(expanded(point.values.signal, 1e3), "mV"))
      .json("as_found", oxygen_json(point.as_found))
      .json("as_left", oxygen_json(point.as_left))
      .str();
}

std::string head_json(const CalibrationRecord& record, const CertificateOptions& options) {
  const auto& head = options.head;
  return JsonObject{}
      .text("organisation", head.organisation)
      .text("address", head.address)
      .text("place", head.place.empty() ? record.room : head.place)
      .text("owner", head.owner)
      .text("authorised_by", head.authorised_by)
      .str();
}

std::string characteristic_text_json(const compensation::CellCharacteristic& cell) {
  const auto unit = readable_sensitivity_unit(cell.sensitivity_unit);
  return JsonObject{}
      .json("sensitivity",
            quantity_json({cell.sensitivity * unit.per_si, certificate_coverage * cell.u_sensitivity * unit.per_si},
                          unit.text))
      .json("zero", quantity_json(expanded(cell.zero, 1e3), "mV"))
      .str();
}

std::string conformity_json(const CalibrationRecord& record, const CertificateOptions& options) {
  if (!options.conformity || record.act == CalibrationAct::bump_test) return "null";
  const auto outcome = outcome_of(record, *options.conformity);
  std::vector<std::string> points;
  for (const auto& point : outcome.points)
    points.push_back(JsonObject{}
                         .text("gas", words_for(point.gas))
                         .json("error", quantity_json({point.error * 100.0, point.expanded * 100.0}, "%"))
                         .number("tolerance_percent", point.tolerance * 100.0)
                         .flag("conforms", point.passed)
                         .str());
  const std::optional<bool> conforms = points.empty() ? std::nullopt : std::optional{outcome.passed};
  return JsonObject{}
      .flag("conforms", conforms)
      .text("decision_rule", decision_rule())
      .json("points", json_array(points))
      .str();
}

} // namespace

tl::expected<std::string, std::string> certificate_json(const CalibrationRecord& record,
                                                        const CertificateOptions& options) {
  if (record.act == CalibrationAct::withdrawal)
    return tl::unexpected(std::string{"a withdrawal has no result to certify: print the record that it withdraws"});
  std::vector<std::string> results;
  for (const auto& point : record.points) results.push_back(result_json(point));
  const auto standing = standing_text(options.standing, options.head);
  return JsonObject{}
      .text("title", certificate_title(record.act))
      .text("number", certificate_number(record, options.head))
      .flag("in_force", standing.empty())
      .text("standing", standing)
      .json("issuer", head_json(record, options))
      .text("serial", record.serial)
      .text("item_condition", options.item_condition)
      .text("performed", rfc3339(record.performed))
      .text("performed_local", rfc3339_local(record.performed))
      .text("issued", rfc3339(options.issued))
      .text("method", method_text(record, options.head))
      .number("coverage_factor", certificate_coverage)
      .text("uncertainty", uncertainty_text())
      .json("results", json_array(results))
      .json("characteristic", record.characteristic ? characteristic_text_json(*record.characteristic) : "null")
      .json("conformity", conformity_json(record, options))
      .json("next_due", options.next_due ? json_string(day_text(*options.next_due)) : "null")
      .text("scope", scope_text())
      .text("caution", alarms::caution_long())
      .json("record", to_json(record))
      .str();
}

} // namespace oxherd::daemon
