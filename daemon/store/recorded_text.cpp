#include <nlohmann/json.hpp>

#include "daemon/store/basis_text.hpp"
#include "daemon/store/reasons_text.hpp"
#include "daemon/store/recorded_oxygen.hpp"

namespace oxherd::daemon {
namespace {

using nlohmann::json;

json number(const std::optional<double>& value) { return value ? json(*value) : json(nullptr); }
std::optional<double> number_in(const json& value) {
  return value.is_null() ? std::nullopt : std::optional{value.get<double>()};
}

json inputs_json(const OxygenInputs& inputs) {
  const auto& gas = inputs.gas;
  const auto& own = gas.humidity_temperature;
  return {{"si", number(inputs.si)},
          {"u_si", inputs.u_si},
          {"zeros", inputs.zeros_in_a_row},
          {"temperature", {gas.temperature.value.si(), gas.temperature.u_si}},
          {"humidity", {gas.humidity.value.si(), gas.humidity.u_si}},
          {"humidity_temperature", own ? json{own->value.si(), own->u_si} : json(nullptr)},
          {"pressure", {gas.pressure.value.si(), gas.pressure.u_si}},
          {"signal_reasons", store::reasons_text(inputs.signal_reasons)},
          {"gas_reasons", store::reasons_text(inputs.gas_reasons)},
          {"other_reasons", store::reasons_text(inputs.other_reasons)}};
}

template <class Q> Uncertain<Q> pair_in(const json& from) {
  return {Q::from_si(from.at(0).get<double>()), from.at(1).get<double>()};
}
std::vector<alarms::Reason> reasons_in(const json& from) {
  auto reasons = store::reasons_from(from.get<std::string>());
  if (!reasons) throw std::invalid_argument{reasons.error()};
  return std::move(*reasons);
}
OxygenInputs inputs_from(const json& from) {
  OxygenInputs inputs;
  inputs.si = number_in(from.at("si"));
  inputs.u_si = from.at("u_si").get<double>();
  inputs.zeros_in_a_row = from.at("zeros").get<int>();
  inputs.gas.temperature = pair_in<Temperature>(from.at("temperature"));
  inputs.gas.humidity = pair_in<RelativeHumidity>(from.at("humidity"));
  if (const auto& own = from.at("humidity_temperature"); !own.is_null())
    inputs.gas.humidity_temperature = pair_in<Temperature>(own);
  inputs.gas.pressure = pair_in<Pressure>(from.at("pressure"));
  inputs.signal_reasons = reasons_in(from.at("signal_reasons"));
  inputs.gas_reasons = reasons_in(from.at("gas_reasons"));
  inputs.other_reasons = reasons_in(from.at("other_reasons"));
  return inputs;
}

json outputs_json(const OxygenOutputs& o) {
  return {alarms::name_of(o.status), number(o.oxygen), number(o.u_oxygen), number(o.oxygen_wet),
          number(o.u_oxygen_wet),    number(o.po2_Pa), number(o.u_po2_Pa), o.reasons};
}
OxygenOutputs outputs_from(const json& from) {
  OxygenOutputs outputs;
  const auto status = alarms::status_named(from.at(0).get<std::string>());
  if (!status) throw std::invalid_argument{"unknown status"};
  outputs.status = *status;
  int i = 1;
  for (auto* value : {&outputs.oxygen, &outputs.u_oxygen, &outputs.oxygen_wet, &outputs.u_oxygen_wet, &outputs.po2_Pa,
                      &outputs.u_po2_Pa})
    *value = number_in(from.at(static_cast<std::size_t>(i++)));
  outputs.reasons = from.at(7).get<std::string>();
  return outputs;
}

SharedBasis basis_in(const json& from) {
  auto basis = store::basis_from(from.get<std::string>());
  if (!basis) throw std::invalid_argument{basis.error()};
  return std::make_shared<const ReadingBasis>(std::move(*basis));
}
WallTime wall_in(const json& from) { return WallTime{std::chrono::milliseconds{from.get<std::int64_t>()}}; }

RecordedOxygen parsed(const json& from) {
  RecordedOxygen recorded;
  recorded.reading = from.at("reading").get<std::int64_t>();
  recorded.at = wall_in(from.at("at"));
  recorded.room = from.at("room").get<std::string>();
  recorded.sensor = from.at("sensor").get<std::string>();
  recorded.inputs = inputs_from(from.at("inputs"));
  recorded.basis = basis_in(from.at("basis"));
  recorded.outputs = outputs_from(from.at("outputs"));
  if (const auto later = from.find("later"); later != from.end())
    recorded.later = {{later->at("id").get<std::int64_t>(), wall_in(later->at("at")),
                       later->at("author").get<std::string>(), later->at("reason").get<std::string>()},
                      basis_in(later->at("basis")),
                      outputs_from(later->at("outputs"))};
  return recorded;
}

} // namespace

std::string recorded_text(const RecordedOxygen& recorded) {
  json out{{"reading", recorded.reading},
           {"at", recorded.at.time_since_epoch().count()},
           {"room", recorded.room},
           {"sensor", recorded.sensor},
           {"inputs", inputs_json(recorded.inputs)},
           {"basis", store::basis_text(*recorded.basis)},
           {"outputs", outputs_json(recorded.outputs)}};
  if (const auto& later = recorded.later)
    out["later"] = {{"id", later->by.id},
                    {"at", later->by.at.time_since_epoch().count()},
                    {"author", later->by.author},
                    {"reason", later->by.reason},
                    {"basis", store::basis_text(*later->basis)},
                    {"outputs", outputs_json(later->outputs)}};
  return out.dump(-1, ' ', false, json::error_handler_t::replace);
}

tl::expected<RecordedOxygen, std::string> recorded_from(std::string_view text) {
  try {
    return parsed(json::parse(text));
  } catch (const std::exception& error) {
    return tl::unexpected(std::string{"a recorded reading cannot be read: "} + error.what());
  }
}

} // namespace oxherd::daemon
