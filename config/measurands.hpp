#pragma once

#include <array>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "compensation/units.hpp"
#include "config/settings.hpp"

namespace oxherd::config {

/// One way in which a device can deliver a measurand: the dimension of its value, and what holds where neither the
/// profile nor the sensor says otherwise.
struct Delivery {
  Measurand measurand;
  compensation::Dimension dimension;
  double u_si;                     ///< standard uncertainty
  std::optional<double> lowest_si; ///< below or above, the input is broken or in another unit
  std::optional<double> highest_si;
};

/// A contact, which has two states: the one that it is named after is 1.
struct ContactInput {
  Measurand measurand;
  std::string_view when_key; ///< of a profile: which of the contact's two numbers means that state
  std::string_view key;      ///< of the state in JSON
  std::string_view yes, no;  ///< for a person
};
[[nodiscard]] std::span<const ContactInput> contacts();
/// Null for what is no contact.
[[nodiscard]] const ContactInput* contact_of(Measurand measurand);

/// All deliveries; oxygen has two, the signal of a cell and the fraction of a transmitter.
[[nodiscard]] std::span<const Delivery> deliveries();
[[nodiscard]] std::optional<Measurand> measurand_named(std::string_view name);
[[nodiscard]] std::vector<std::string> measurand_names();

/// The dimension of a difference or an uncertainty: 0.3 °C is 0.3 K then.
[[nodiscard]] compensation::Dimension difference_of(compensation::Dimension dimension);

} // namespace oxherd::config
