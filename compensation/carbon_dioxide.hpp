#pragma once

#include <tl/expected.hpp>

#include "compensation/cell.hpp"
#include "compensation/errors.hpp"

namespace oxherd::compensation {

/// Conditions for which an NDIR probe without correction of its own was adjusted.
struct NdirReference {
  Pressure pressure = pascals(101325.0);
  Temperature temperature = celsius(25.0);
};

/// True mole fraction (wet) from the indication of an NDIR probe that counts molecules: x = indicated (p0/p)(T/T0).
/// @param indicated  ratio with standard uncertainty
/// @source ideal gas law; real cells deviate by band saturation, the maker's curve wins where one exists
[[nodiscard]] tl::expected<Uncertain<WetFraction>, ReadingError>
correct_ndir(Uncertain<WetFraction> indicated, const NdirReference& reference, const GasConditions& gas);

} // namespace oxherd::compensation
