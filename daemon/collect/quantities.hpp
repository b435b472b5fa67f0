#pragma once

#include <span>
#include <string>
#include <string_view>

// What packs name and in which unit, beside what the page and its interface name. Pure.
namespace oxherd::daemon::collect {

struct Quantity {
  std::string_view name;           ///< of the interface: "temperature_c"
  std::string_view recorded, unit; ///< in packs: "temperature", "Cel"
  double factor;                   ///< from the unit of packs
};

[[nodiscard]] std::span<const Quantity> quantities();
[[nodiscard]] const Quantity* quantity_of(std::string_view recorded, std::string_view unit); ///< null: none
[[nodiscard]] const Quantity* quantity_named(std::string_view name);                         ///< null: none
[[nodiscard]] double in_persons_unit(const Quantity& quantity, double value);
/// What a sensor measures that has this among its records, in the words of the settings; null: it says nothing of that.
[[nodiscard]] const std::string* measurand_of(std::string_view recorded);

} // namespace oxherd::daemon::collect
