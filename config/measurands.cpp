#include "config/measurands.hpp"

#include <algorithm>

namespace oxherd::config {
namespace {

using compensation::Dimension;

// Uncertainties: proposals of the project for an unnamed probe of the trade; the data sheet's own value goes into the
// profile. Spans: common practice, wide enough for any room and narrow enough to betray a wrong unit or word order.
constexpr std::array<Delivery, 8> all_deliveries{{
    {Measurand::oxygen, Dimension::voltage, 0.02e-3, {}, {}},
    {Measurand::oxygen, Dimension::ratio, 0.001, -0.01, 1.01},
    {Measurand::temperature, Dimension::temperature, 0.3, 233.15, 358.15},
    {Measurand::humidity, Dimension::humidity, 0.03, 0.0, 1.05},
    {Measurand::pressure, Dimension::pressure, 50.0, 60e3, 110e3},
    {Measurand::sea_level_pressure, Dimension::pressure, 100.0, 87e3, 108.5e3}, // the extremes ever reported
    {Measurand::carbon_dioxide, Dimension::ratio, 50e-6, 0.0, 1.0},
    // A sealed room is tested at 250 Pa and relieved near it; ten times that would burst it (common practice).
    {Measurand::over_pressure, Dimension::pressure, 2.0, -2500.0, 2500.0},
}};

constexpr std::array<ContactInput, 5> all_contacts{{
    {Measurand::door, "open_when", "door_open", "open", "closed"},
    {Measurand::occupancy, "occupied_when", "people_in", "people in", "nobody in"},
    {Measurand::lights, "on_when", "lights_on", "on", "off"},
    {Measurand::air_flow, "flowing_when", "air_flowing", "flowing", "standing"},
    {Measurand::relief_valve, "isolated_when", "relief_isolated", "isolated", "free"},
}};

// Asked at every sample of every channel.
constexpr auto contact_by_measurand = [] {
  std::array<const ContactInput*, static_cast<std::size_t>(Measurand::relief_valve) + 1> found{};
  for (const auto& one : all_contacts) found.at(static_cast<std::size_t>(one.measurand)) = &one;
  return found;
}();

constexpr std::array all_measurands{Measurand::oxygen,
                                    Measurand::temperature,
                                    Measurand::humidity,
                                    Measurand::pressure,
                                    Measurand::sea_level_pressure,
                                    Measurand::carbon_dioxide,
                                    Measurand::over_pressure,
                                    Measurand::door,
                                    Measurand::occupancy,
                                    Measurand::lights,
                                    Measurand::air_flow,
                                    Measurand::relief_valve};

} // namespace

std::span<const Delivery> deliveries() { return all_deliveries; }
std::span<const ContactInput> contacts() { return all_contacts; }

const ContactInput* contact_of(Measurand measurand) {
  return contact_by_measurand.at(static_cast<std::size_t>(measurand));
}

std::string_view name_of(Measurand measurand) {
  switch (measurand) {
  case Measurand::oxygen: return "oxygen";
  case Measurand::temperature: return "temperature";
  case Measurand::humidity: return "humidity";
  case Measurand::pressure: return "pressure";
  case Measurand::sea_level_pressure: return "sea-level-pressure";
  case Measurand::carbon_dioxide: return "carbon-dioxide";
  case Measurand::over_pressure: return "over-pressure";
  case Measurand::door: return "door";
  case Measurand::occupancy: return "occupancy";
  case Measurand::lights: return "lights";
  case Measurand::air_flow: return "air-flow";
  case Measurand::relief_valve: return "relief-valve";
  }
  return "unknown";
}

std::optional<Measurand> measurand_named(std::string_view name) {
  for (const auto one : all_measurands)
    if (name_of(one) == name) return one;
  return std::nullopt;
}

std::vector<std::string> measurand_names() {
  std::vector<std::string> names;
  for (const auto one : all_measurands) names.emplace_back(name_of(one));
  return names;
}

Dimension difference_of(Dimension dimension) {
  return dimension == Dimension::temperature ? Dimension::temperature_difference : dimension;
}

} // namespace oxherd::config
