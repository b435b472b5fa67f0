#pragma once

#include <array>
#include <string_view>

#include "compensation/oxygen_reading.hpp"

namespace oxherd::compensation::examples {

/// One worked example of an oxygen correction, without uncertainties: inputs, intermediate values and results.
/// @source computed independently with 50 digits from the model equations, ps by IAPWS R7-97 and f by CIPM-2007
struct Example {
  std::string_view name;
  CellModel model;
  double zero_mV, cal_mV, signal_mV;
  double cal_C, cal_h, cal_Pa, cal_oxygen;
  double t_C, h, p_Pa;
  double e_cal_Pa, saturation_Pa, e_Pa;
  double uncorrected, by_temperature, by_pressure, by_humidity, by_response;
  double dry, wet, po2_kPa, molar, mass_g, sea_level;
};

inline constexpr auto conc = CellModel::concentration;
inline constexpr auto part = CellModel::partial_pressure;
inline constexpr auto mole = CellModel::mole_fraction;

// clang-format off
inline constexpr std::array<Example, 10> all{{
    {"E1: 54 °F at 640 m", conc, 0.4, 12.6, 11.9, 21.0, 0.45, 99800.0, 0.20946, 12.2222222222, 0.88, 93869.8381393,
     1124.12505001, 1423.51384796, 1257.26597487,
     0.197441803279, 0.970158838083, 1.06317430581, 1.00215885324, 1.0,
     0.204090595578, 0.201357064055, 18.901355011, 7.96612390292, 254.900032646, 0.186541870328},
    {"E2: identical conditions, half the net signal", conc, 0.2, 10.2, 5.2, 23.0, 0.5, 101000.0, 0.20946, 23.0, 0.5, 101000.0,
     1411.20693224, 2810.92381984, 1411.20693224,
     0.10473, 1.0, 1.0, 1.0, 1.0,
     0.10473, 0.103266676218, 10.429934298, 4.23580199547, 135.537192251, 0.10293544829},
    {"E3: hot and humid", part, 0.0, 9.8, 9.1, 25.0, 0.5, 101325.0, 0.20946, 35.0, 0.9, 98000.0,
     1591.45319592, 5628.62014412, 5087.96236074,
     0.194498571429, 1.0, 1.03392857143, 1.03819454516, 1.0,
     0.208778462617, 0.197939105887, 19.3980323769, 7.57114079885, 242.261363281, 0.191443694813},
    {"E4: 1500 m", mole, 0.05, 0.82, 0.79, 20.0, 0.4, 101325.0, 0.20946, 30.0, 0.95, 84555.9940738,
     939.452608575, 4246.68834055, 4049.59998185,
     0.201299220779, 1.0, 1.0, 1.04056353792, 1.0,
     0.209464629354, 0.19943283955, 16.8632419991, 6.69035734417, 214.078054299, 0.166427258812},
    {"E5: bone-dry 5 % span gas, cold sealed store", conc, 0.03, 3.05, 1.31, 22.0, 0.0, 100500.0, 0.05, 2.0, 0.95, 99000.0,
     0.0, 705.987905898, 673.190742126,
     0.0211920529801, 0.932237845163, 1.01515151515, 1.00684646179, 1.0,
     0.0201926759585, 0.0200553676503, 1.98548139738, 0.867884875728, 27.7705802535, 0.0195951778671},
    {"E6: sample at -10 °C, humidity over water", conc, 0.4, 12.1, 13.0, 18.0, 0.55, 101000.0, 0.20946, -10.0, 0.7, 102000.0,
     1140.07249274, 286.437484069, 201.283962447,
     0.225572307692, 0.903829641078, 0.990196078431, 0.99066710845, 1.0,
     0.199995999471, 0.19960133293, 20.3593359588, 9.30520723114, 297.748020982, 0.200931023527},
    {"E7: with a temperature response", conc, 0.1, 11.5, 11.2, 22.0, 0.4, 100800.0, 0.20946, 33.0, 0.7, 100200.0,
     1062.37625865, 5035.08337565, 3539.9822533,
     0.203947894737, 1.03726918516, 1.00598802395, 1.02569759163, 0.974922633657,
     0.21281047557, 0.205292059334, 20.5702643453, 8.08111754585, 258.579599232, 0.203012724849},
    {"E8: QNH 1020.0 hPa at 640 m", part, 0.25, 12.0, 10.4, 20.0, 0.5, 100000.0, 0.20946, 38.0, 0.95, 94503.6265579,
     1174.2670992, 6632.36962573, 6328.44958592,
     0.180937787234, 1.0, 1.05816044995, 1.05918587034, 1.0,
     0.202793008723, 0.189212944351, 17.8813094329, 6.91186629194, 221.165897609, 0.176474803186},
    {"E9: dry to dry, altitude only", mole, 0.0, 100.0, 95.0, 20.0, 0.0, 101325.0, 0.20946, 25.0, 0.0, 70000.0,
     0.0, 3169.74685495, 0.0,
     0.198987, 1.0, 1.0, 1.0, 1.0,
     0.198987, 0.198987, 13.92909, 5.61893160457, 179.794573483, 0.137469430052},
    {"E10: enriched, 212 m", conc, 0.4, 12.6, 13.9, 24.0, 0.35, 101325.0, 0.20946, 19.0, 0.6, 98803.9956799,
     1049.28120827, 2198.18425039, 1324.08675379,
     0.231779508197, 0.983173481407, 1.02551520617, 1.00308691362, 1.0,
     0.234415250301, 0.231273817349, 22.8507772503, 9.40721134502, 301.011948618, 0.225519637308},
}};
// clang-format on

inline GasConditions gas_of(double t_C, double h, double p_Pa) {
  return {.temperature = {celsius(t_C), 0.0},
          .humidity = {RelativeHumidity::from_si(h), 0.0},
          .humidity_temperature = {},
          .pressure = {pascals(p_Pa), 0.0}};
}

inline Cell cell_of(const Example& example) {
  Cell cell{.model = example.model, .response = {}, .nernst = {}};
  if (example.by_response != 1.0) cell.response = {celsius(20.0), {0.0025, -1e-5}};
  return cell;
}

inline Calibration calibration_of(const Example& example) {
  return {.span = {.signal = {millivolts(example.cal_mV), 0.0},
                   .oxygen = {DryFraction::from_si(example.cal_oxygen), 0.0},
                   .gas = gas_of(example.cal_C, example.cal_h, example.cal_Pa),
                   .reference_air = {}},
          .zero = {millivolts(example.zero_mV), 0.0},
          .low = {}};
}

[[nodiscard]] inline tl::expected<OxygenReading, ReadingError> read(const Example& example) {
  return read_oxygen(cell_of(example), calibration_of(example), {millivolts(example.signal_mV), 0.0},
                     gas_of(example.t_C, example.h, example.p_Pa));
}

/// The example whose uncertainty was propagated two ways: E1 rounded, all inputs normal and independent, one
/// thermometer for cell and humidity probe, station pressure from the elevation alone.
struct Propagated {
  Cell cell;
  Calibration calibration{.span = {.signal = {millivolts(12.6), 0.02e-3},
                                   .oxygen = {DryFraction::from_si(0.20946), 0.00006},
                                   .gas = {.temperature = {celsius(21.0), 0.3},
                                           .humidity = {RelativeHumidity::from_si(0.45), 0.03},
                                           .humidity_temperature = {},
                                           .pressure = {pascals(99800.0), 50.0}},
                                   .reference_air = {}},
                          .zero = {millivolts(0.4), 0.05e-3},
                          .low = {}};
  Uncertain<Signal> signal{millivolts(11.9), 0.02e-3};
  GasConditions gas{.temperature = {celsius(12.2), 0.3},
                    .humidity = {RelativeHumidity::from_si(0.88), 0.03},
                    .humidity_temperature = {},
                    .pressure = {pascals(93870.0), 800.0}};
};

} // namespace oxherd::compensation::examples
