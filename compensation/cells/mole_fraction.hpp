#pragma once

#include "compensation/cells/law.hpp"

namespace oxherd::compensation::cells {

/// The signal follows the mole fraction of oxygen in the moist gas, x (1 - e/p), times the temperature response g(t).
/// Cells behind a capillary: the diffusivity falls with pressure as the density rises. The weak effect of temperature
/// that such cells keep goes into the temperature response.
/// @source  bulk diffusion, where D c does not depend on pressure (kinetic theory of gases)
/// @checked tests/compensation/oxygen_reading_test.cpp, E4 and E9
extern const Law mole_fraction;

} // namespace oxherd::compensation::cells
