#include "compensation/units.hpp"

#include <array>

#include "compensation/constants.hpp"

namespace oxherd::compensation {

namespace {

constexpr double fahrenheit_K = 5.0 / 9.0;
constexpr double fahrenheit_zero_K = 459.67 * 5.0 / 9.0;

// The factors to SI are exact by definition where they end; the conventional mercury columns and the pound-force are
// those of NIST SP 811 (2008), appendix B.8. The micro sign has two code points, U+00B5 and U+03BC; people type both.
constexpr std::array voltage_units{Unit{"mV", Dimension::voltage, 1e-3}, Unit{"V", Dimension::voltage},
                                   Unit{"uV", Dimension::voltage, 1e-6}, Unit{"\u00b5V", Dimension::voltage, 1e-6},
                                   Unit{"\u03bcV", Dimension::voltage, 1e-6}};
constexpr std::array pressure_units{Unit{"kPa", Dimension::pressure, 1e3},
                                    Unit{"hPa", Dimension::pressure, 1e2},
                                    Unit{"Pa", Dimension::pressure},
                                    Unit{"mbar", Dimension::pressure, 1e2},
                                    Unit{"bar", Dimension::pressure, 1e5},
                                    Unit{"mmHg", Dimension::pressure, 133.322387415},
                                    Unit{"Torr", Dimension::pressure, standard_atmosphere / 760.0},
                                    Unit{"inHg", Dimension::pressure, 3386.388640341},
                                    Unit{"psi", Dimension::pressure, 6894.757293168},
                                    Unit{"atm", Dimension::pressure, standard_atmosphere}};
constexpr std::array temperature_units{Unit{"°C", Dimension::temperature, 1.0, ice_point},
                                       Unit{"C", Dimension::temperature, 1.0, ice_point},
                                       Unit{"degC", Dimension::temperature, 1.0, ice_point},
                                       Unit{"\u2103", Dimension::temperature, 1.0, ice_point},
                                       Unit{"°F", Dimension::temperature, fahrenheit_K, fahrenheit_zero_K},
                                       Unit{"F", Dimension::temperature, fahrenheit_K, fahrenheit_zero_K},
                                       Unit{"degF", Dimension::temperature, fahrenheit_K, fahrenheit_zero_K},
                                       Unit{"\u2109", Dimension::temperature, fahrenheit_K, fahrenheit_zero_K},
                                       Unit{"K", Dimension::temperature}};
constexpr std::array difference_units{Unit{"K", Dimension::temperature_difference},
                                      Unit{"°C", Dimension::temperature_difference},
                                      Unit{"C", Dimension::temperature_difference},
                                      Unit{"degC", Dimension::temperature_difference},
                                      Unit{"\u2103", Dimension::temperature_difference},
                                      Unit{"°F", Dimension::temperature_difference, fahrenheit_K},
                                      Unit{"F", Dimension::temperature_difference, fahrenheit_K},
                                      Unit{"degF", Dimension::temperature_difference, fahrenheit_K},
                                      Unit{"\u2109", Dimension::temperature_difference, fahrenheit_K}};
constexpr std::array ratio_units{Unit{"%", Dimension::ratio, 1e-2},   Unit{"fraction", Dimension::ratio},
                                 Unit{"ratio", Dimension::ratio},     Unit{"1", Dimension::ratio},
                                 Unit{"/", Dimension::ratio},         Unit{"ppm", Dimension::ratio, 1e-6},
                                 Unit{"ppmv", Dimension::ratio, 1e-6}};
constexpr std::array humidity_units{Unit{"%RH", Dimension::humidity, 1e-2}, Unit{"%", Dimension::humidity, 1e-2},
                                    Unit{"fraction", Dimension::humidity},  Unit{"ratio", Dimension::humidity},
                                    Unit{"1", Dimension::humidity},         Unit{"/", Dimension::humidity}};
constexpr std::array length_units{Unit{"m", Dimension::length}, Unit{"ft", Dimension::length, 0.3048},
                                  Unit{"km", Dimension::length, 1e3}};
constexpr std::array duration_units{Unit{"s", Dimension::duration}, Unit{"ms", Dimension::duration, 1e-3},
                                    Unit{"min", Dimension::duration, 60.0}, Unit{"h", Dimension::duration, 3600.0},
                                    Unit{"d", Dimension::duration, 86400.0}};
constexpr std::array frequency_units{Unit{"Hz", Dimension::frequency}, Unit{"kHz", Dimension::frequency, 1e3},
                                     Unit{"MHz", Dimension::frequency, 1e6}};
constexpr std::array power_units{Unit{"W", Dimension::power}, Unit{"mW", Dimension::power, 1e-3},
                                 Unit{"kW", Dimension::power, 1e3}};
constexpr double cubic_foot_m3 = 0.3048 * 0.3048 * 0.3048;
constexpr std::array volume_units{Unit{"m3", Dimension::volume}, Unit{"m³", Dimension::volume},
                                  Unit{"l", Dimension::volume, 1e-3}, Unit{"ft3", Dimension::volume, cubic_foot_m3}};
constexpr std::array volume_flow_units{
    Unit{"m3/h", Dimension::volume_flow, 1.0 / 3600.0}, Unit{"m³/h", Dimension::volume_flow, 1.0 / 3600.0},
    Unit{"m3/s", Dimension::volume_flow}, Unit{"l/min", Dimension::volume_flow, 1.0 / 60000.0},
    Unit{"ft3/min", Dimension::volume_flow, cubic_foot_m3 / 60.0}};
constexpr std::array number_units{Unit{"", Dimension::number}};

/// What is said about a dimension, in the order of the enumeration.
struct DimensionRow {
  std::string_view name;
  std::string_view example;
  std::span<const Unit> units;
};
constexpr std::array dimension_rows{DimensionRow{"voltage", "12.6 mV", voltage_units},
                                    DimensionRow{"pressure", "99.8 kPa", pressure_units},
                                    DimensionRow{"temperature", "21 °C", temperature_units},
                                    DimensionRow{"temperature difference", "0.3 K", difference_units},
                                    DimensionRow{"fraction", "19.5 %", ratio_units},
                                    DimensionRow{"relative humidity", "45 %", humidity_units},
                                    DimensionRow{"length", "640 m", length_units},
                                    DimensionRow{"duration", "5 s", duration_units},
                                    DimensionRow{"frequency", "50 Hz", frequency_units},
                                    DimensionRow{"power", "60 W", power_units},
                                    DimensionRow{"volume", "200 m3", volume_units},
                                    DimensionRow{"flow", "40 m3/h", volume_flow_units},
                                    DimensionRow{"number", "3", number_units}};
static_assert(dimension_rows.size() == static_cast<std::size_t>(Dimension::number) + 1);

const DimensionRow& dimension_row(Dimension dimension) {
  return dimension_rows.at(
      static_cast<std::size_t>(dimension)); // at(): a value that is not one of the names stops here
}

} // namespace

std::string_view name_of(Dimension dimension) { return dimension_row(dimension).name; }

std::string_view example_of(Dimension dimension) { return dimension_row(dimension).example; }

std::span<const Unit> units_of(Dimension dimension) { return dimension_row(dimension).units; }

} // namespace oxherd::compensation
