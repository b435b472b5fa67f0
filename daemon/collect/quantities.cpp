#include "daemon/collect/quantities.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>

namespace oxherd::daemon::collect {
namespace {

constexpr std::array<Quantity, 10> quantity_table{{{"dry_fraction", "oxygen", "/", 1.0},
                                                   {"u_dry_fraction", "u_oxygen", "/", 1.0},
                                                   {"wet_fraction", "oxygen_wet", "/", 1.0},
                                                   {"po2_kpa", "po2", "Pa", 1e-3},
                                                   {"raw_mv", "raw", "V", 1e3},
                                                   {"temperature_c", "temperature", "Cel", 1.0},
                                                   {"humidity_percent", "humidity", "%RH", 1.0},
                                                   {"pressure_kpa", "pressure", "Pa", 1e-3},
                                                   {"co2_fraction", "co2", "/", 1.0},
                                                   {"over_pressure_pa", "over_pressure", "Pa", 1.0}}};

} // namespace

std::span<const Quantity> quantities() { return quantity_table; }

const Quantity* quantity_of(std::string_view recorded, std::string_view unit) {
  const auto found = std::find_if(quantity_table.begin(), quantity_table.end(),
                                  [&](const Quantity& q) { return q.recorded == recorded && q.unit == unit; });
  return found == quantity_table.end() ? nullptr : &*found;
}

const Quantity* quantity_named(std::string_view name) {
  const auto found =
      std::find_if(quantity_table.begin(), quantity_table.end(), [&](const Quantity& q) { return q.name == name; });
  return found == quantity_table.end() ? nullptr : &*found;
}

double in_persons_unit(const Quantity& quantity, double value) {
  const double scaled = value * quantity.factor;
  return quantity.factor == 1.0 ? scaled : std::round(scaled * 1e9) / 1e9; // without the noise of the conversion
}

const std::string* measurand_of(std::string_view recorded) {
  static const std::map<std::string, std::string, std::less<>> measurands{
      {"oxygen", "oxygen"},      {"temperature", "temperature"},     {"humidity", "humidity"}, {"pressure", "pressure"},
      {"co2", "carbon-dioxide"}, {"over_pressure", "over-pressure"}, {"door", "door"}};
  const auto found = measurands.find(recorded);
  return found == measurands.end() ? nullptr : &found->second;
}

} // namespace oxherd::daemon::collect
