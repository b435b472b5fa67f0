#include "alarms/texts.hpp"
#include "compensation/cells/catalogue.hpp"
#include "daemon/calibration/certificate_text.hpp"
#include "daemon/cli/explain_stored.hpp"
#include "daemon/json_text.hpp"

namespace oxherd::daemon::cli {
namespace {

using compensation::OxygenReading;

std::string quoted_list(const std::vector<std::string>& sentences) {
  std::vector<std::string> quoted;
  for (const auto& sentence : sentences) quoted.push_back(json_string(sentence));
  return json_array(quoted);
}

/// Members of an object that are null together when there is no such object.
template <class T> class Maybe {
public:
  explicit Maybe(const std::optional<T>& of) : of_{of} {}
  template <class F> std::optional<double> operator()(F value) const {
    return of_ ? std::optional<double>{value(*of_)} : std::nullopt;
  }

private:
  const std::optional<T>& of_;
};

/// Uncertainties of every output, k = 1 or expanded, under the names of their values.
std::string uncertainties(const std::optional<OxygenReading>& reading, double k) {
  const Maybe of{reading};
  return JsonObject{}
      .number("dry_fraction", of([k](const auto& r) { return k * r.u_dry; }))
      .number("wet_fraction", of([k](const auto& r) { return k * r.u_wet; }))
      .number("po2_kpa", of([k](const auto& r) { return k * r.u_po2_Pa / 1e3; }))
      .number("molar_mol_m3", of([k](const auto& r) { return k * r.u_molar; }))
      .number("mass_g_m3", of([k](const auto& r) { return k * r.u_mass * 1e3; }))
      .number("sea_level_equivalent", of([k](const auto& r) { return k * r.u_sea_level_equivalent; }))
      .str();
}

std::string budget_list(const std::optional<OxygenReading>& reading) {
  std::vector<std::string> lines;
  for (const auto& line : reading ? sorted_budget(*reading) : std::vector<BudgetLine>{})
    lines.push_back(JsonObject{}
                        .text("input", compensation::name_of(line.input))
                        .number("contribution", line.contribution)
                        .number("share", line.share)
                        .str());
  return json_array(lines);
}

std::string factors_object(const std::optional<OxygenReading>& reading) {
  const Maybe of{reading};
  return JsonObject{}
      .number("temperature", of([](const auto& r) { return r.factors.temperature; }))
      .number("pressure", of([](const auto& r) { return r.factors.pressure; }))
      .number("humidity", of([](const auto& r) { return r.factors.humidity; }))
      .str();
}

void add_results(JsonObject& out, const std::optional<OxygenReading>& reading) {
  const Maybe of{reading};
  out.number("dry_fraction", of([](const auto& r) { return r.dry.si(); }))
      .number("wet_fraction", of([](const auto& r) { return r.wet.si(); }))
      .number("po2_kpa", of([](const auto& r) { return r.po2.si() / 1e3; }))
      .number("molar_mol_m3", of([](const auto& r) { return r.molar.si(); }))
      .number("mass_g_m3", of([](const auto& r) { return r.mass.si() * 1e3; }))
      .number("sea_level_equivalent", of([](const auto& r) { return r.sea_level_equivalent; }))
      .number("uncorrected_fraction", of([](const auto& r) { return r.uncorrected; }))
      .json("factors", factors_object(reading))
      .json("u", uncertainties(reading, 1.0))
      .number("coverage_factor", coverage_factor)
      .json("expanded", uncertainties(reading, coverage_factor))
      .json("budget", budget_list(reading));
}

void add_cell(JsonObject& out, const Explanation& explained) {
  const Maybe cell{explained.characteristic};
  const Maybe calibration{explained.calibration};
  const Maybe signal{explained.signal};
  const auto unit =
      readable_sensitivity_unit(explained.characteristic ? explained.characteristic->sensitivity_unit : "");
  out.text("model", explained.cell ? compensation::cells::law_of(explained.cell->model).name : "transmitter")
      .number("signal_mv", signal([](const auto& s) { return s.value.si() * 1e3; }))
      .number("cal_signal_mv", calibration([](const auto& c) { return c.span.signal.value.si() * 1e3; }))
      .number("cal_oxygen_fraction", calibration([](const auto& c) { return c.span.oxygen.value.si(); }))
      .number("zero_mv", cell([](const auto& c) { return c.zero.value.si() * 1e3; }))
      .number("u_zero_mv", cell([](const auto& c) { return c.zero.u_si * 1e3; }))
      .number("sensitivity", cell([&](const auto& c) { return c.sensitivity * unit.per_si; }))
      .number("u_sensitivity", cell([&](const auto& c) { return c.u_sensitivity * unit.per_si; }))
      .text("sensitivity_unit", unit.text)
      .number("cal_age_days", Maybe{explained.calibration_age_s}([](double s) { return s / 86400.0; }));
}

} // namespace

std::string explain_json(const Explanation& explained) {
  JsonObject out;
  add_results(out, explained.reading);
  add_cell(out, explained);
  const auto& now = explained.now.gas;
  const auto& then = explained.at_calibration.gas;
  const bool calibrated = explained.calibration.has_value();
  const auto if_calibrated = [&](double value) { return calibrated ? std::optional{value} : std::nullopt; };
  const Maybe of{explained.reading};
  const auto kilopascals_of = [](Pressure p) { return p.si() / 1e3; };
  out.number("temperature_c", now.temperature.value.si() - 273.15)
      .number("humidity_percent", now.humidity.value.si() * 100.0)
      .number("pressure_kpa", now.pressure.value.si() / 1e3)
      .text("temperature_from", explained.stored ? explained.now.temperature_from : "typed")
      .text("humidity_from", explained.stored ? explained.now.humidity_from : "typed")
      .text("pressure_from", explained.now.pressure_from)
      .number("vapour_pressure_kpa", of([&](const auto& r) { return kilopascals_of(r.vapour); }))
      .number("saturation_pressure_kpa", of([&](const auto& r) { return kilopascals_of(r.saturation); }))
      .number("cal_temperature_c", if_calibrated(then.temperature.value.si() - 273.15))
      .number("cal_humidity_percent", if_calibrated(then.humidity.value.si() * 100.0))
      .number("cal_pressure_kpa", if_calibrated(then.pressure.value.si() / 1e3))
      .text("cal_pressure_from", explained.at_calibration.pressure_from)
      .number("cal_vapour_pressure_kpa", of([&](const auto& r) { return kilopascals_of(r.vapour_at_calibration); }))
      .json("assumed", quoted_list(explained.assumed))
      .json("warnings", quoted_list(doubts_about(explained)));
  if (explained.stored) out.json("stored", stored_json(explained));
  return out.text("caution", alarms::caution_short()).str();
}

} // namespace oxherd::daemon::cli
