#pragma once

#include <array>

#include "compensation/budget.hpp"

namespace oxherd::compensation {

/// The inputs that also move the gas around the cell itself; they lie together in the budget.
inline constexpr std::size_t own_first = static_cast<std::size_t>(Input::temperature);
inline constexpr std::size_t own_count = 4;
static_assert(static_cast<std::size_t>(Input::humidity) == own_first + 1);
static_assert(static_cast<std::size_t>(Input::humidity_temperature) == own_first + 2);
static_assert(static_cast<std::size_t>(Input::pressure) == own_first + 3);

/// How that gas moves with these four inputs, each already times u.
struct OwnSpread {
  std::array<double, own_count> dry_Pa{};   ///< of p - e
  std::array<double, own_count> dry_part{}; ///< of 1 - e/p
  std::array<double, own_count> t_K{};      ///< of the temperature of the gas
};
[[nodiscard]] OwnSpread own_spread(const GasConditions& gas, const Surroundings& at);

/// Sets the fraction, what derives from it, and the standard uncertainties of all.
/// @param spread  signed contributions of every input to the dry fraction
/// @source GUM (JCGM 100:2008) equation (10); an input that moves both the fraction and the gas has its effects summed
void derive_outputs(OxygenReading& reading, double dry, const Contributions& spread, const OwnSpread& own,
                    const Surroundings& at);

} // namespace oxherd::compensation
