#include "config/loop_value.hpp"

#include <limits>

#include "config/rules.hpp"

namespace oxherd::config {

using compensation::Dimension;
using control::ProcessValue;

LoopValue loop_value(ProcessValue value) {
  constexpr auto any = std::numeric_limits<double>::infinity();
  switch (value) {
  case ProcessValue::oxygen:
    return {gas_fraction, {Dimension::ratio, 1e-5, 0.2, "0.001 % to 20 %"}, 0.002, 0.016, "\"2 %\""};
  case ProcessValue::oxygen_partial_pressure:
    return {{Dimension::pressure, 0.0, 110e3, "0 kPa to 110 kPa"},
            {Dimension::pressure, 1.0, 20e3, "1 Pa to 20 kPa"},
            200.0,
            1600.0,
            "\"2 kPa\""};
  case ProcessValue::carbon_dioxide:
    return {{Dimension::ratio, 0.0, 0.2, "0 ppm to 20 %"},
            {Dimension::ratio, 1e-6, 0.1, "1 ppm to 10 %"},
            50e-6,
            400e-6,
            "\"900 ppm\""};
  case ProcessValue::temperature:
  case ProcessValue::dew_point:
    return {gas_temperature, {Dimension::temperature_difference, 0.01, 20.0, "0.01 K to 20 K"}, 0.5, 4.0, "\"21 °C\""};
  case ProcessValue::humidity:
    return {gas_humidity, {Dimension::humidity, 1e-4, 0.5, "0.01 % to 50 %"}, 0.03, 0.24, "\"65 %\""};
  case ProcessValue::vapour_pressure_deficit:
    return {{Dimension::pressure, 0.0, 10e3, "0 kPa to 10 kPa"},
            {Dimension::pressure, 1.0, 5e3, "1 Pa to 5 kPa"},
            50.0,
            400.0,
            "\"0.9 kPa\""};
  case ProcessValue::over_pressure:
    return {{Dimension::pressure, -1000.0, 1000.0, "-1000 Pa to 1000 Pa"},
            {Dimension::pressure, 0.1, 1000.0, "0.1 Pa to 1000 Pa"},
            5.0,
            40.0,
            "\"25 Pa\""};
  }
  return {{}, {Dimension::number, -any, any, ""}, 0.0, 0.0, ""};
}

} // namespace oxherd::config
